"""Standby: what appliances draw while their circuit is live and nobody cooks."""

from .standby_cost import StandbyCost, standby_cost
from .standby_learner import StandbyBook, StandbyFigure, StandbySource

__all__ = [
    "StandbyBook",
    "StandbyCost",
    "StandbyFigure",
    "StandbySource",
    "standby_cost",
]
