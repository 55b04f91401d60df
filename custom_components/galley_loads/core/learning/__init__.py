"""What use teaches: signatures that the crew takes, and loads that recur unnamed."""

from .discovery import Discovery, RecurringLoad
from .signature import LearnProblem, LearnSession, Signature

__all__ = ["Discovery", "LearnProblem", "LearnSession", "RecurringLoad", "Signature"]
