"""Standby: what appliances draw while their circuit is live and nobody cooks."""

from .book import StandbyBook, StandbyFigure, StandbySource
from .cost import StandbyCost, standby_cost

__all__ = [
    "StandbyBook",
    "StandbyCost",
    "StandbyFigure",
    "StandbySource",
    "standby_cost",
]
