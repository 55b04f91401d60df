"""Standby: what appliances draw while their circuit is live and nobody cooks."""

from .standby_cost import StandbyCost, standby_cost
from .standby_learner import (
    StandbyFigure,
    StandbyLearner,
    StandbyLearnerState,
    StandbySource,
)

__all__ = [
    "StandbyCost",
    "StandbyFigure",
    "StandbyLearner",
    "StandbyLearnerState",
    "StandbySource",
    "standby_cost",
]
