"""Signs that are set the wrong way round: noticed from what the meters say together."""

from .bank_sign import BankSign
from .direction import Direction
from .finding import Turned, WrongSign

__all__ = ["BankSign", "Direction", "Turned", "WrongSign"]
