"""Cutting: when an idle circuit's relay may be opened, and whether it did open."""

from .cut_facts import CutFacts
from .cut_log import LogEntry
from .cutting_rules import Answer, CuttingRules
from .outcomes import (
    AnswerRejected,
    Ask,
    Asker,
    Cut,
    Kept,
    NotVerified,
    Outcome,
    QuestionOver,
    Reason,
    Refused,
    Stuck,
    Trouble,
    Unverified,
    Verified,
)

__all__ = [
    "Answer",
    "AnswerRejected",
    "Ask",
    "Asker",
    "Cut",
    "CutFacts",
    "CuttingRules",
    "Kept",
    "LogEntry",
    "NotVerified",
    "Outcome",
    "QuestionOver",
    "Reason",
    "Refused",
    "Stuck",
    "Trouble",
    "Unverified",
    "Verified",
]
