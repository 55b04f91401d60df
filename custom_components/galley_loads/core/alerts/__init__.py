"""Alerts: what is to be said to the crew, each once per occasion."""

from .facts import Facts
from .night import NightOutlook, night_outlook
from .occasion import URGENT, AlertKind, Clear, Message, Say
from .rules import Alerts

__all__ = [
    "URGENT",
    "AlertKind",
    "Alerts",
    "Clear",
    "Facts",
    "Message",
    "NightOutlook",
    "Say",
    "night_outlook",
]
