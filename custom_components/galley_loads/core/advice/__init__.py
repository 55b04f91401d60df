"""Advice: cook now, wait, or hold off, with its reasons."""

from .advice_report import advice_to_mapping
from .advise import advise
from .answer import Advice, ForecastStep, Verdict
from .request import DishRequest, UnknownDish, request_dish
from .starts import Start

__all__ = [
    "Advice",
    "DishRequest",
    "ForecastStep",
    "Start",
    "UnknownDish",
    "Verdict",
    "advice_to_mapping",
    "advise",
    "request_dish",
]
