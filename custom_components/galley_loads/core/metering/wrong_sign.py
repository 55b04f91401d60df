"""What is found to be read the wrong way round."""

from dataclasses import dataclass
from enum import StrEnum


class Turned(StrEnum):
    """What it is that is the wrong way round."""

    BANK = "bank"
    """What a positive reading of the bank means."""

    METER = "meter"
    """A meter of loads or chargers that counts backwards."""


@dataclass(frozen=True, slots=True)
class WrongSign:
    """Sensors that are read the wrong way round, and sentences with the evidence.

    `called` is what the crew calls them, with their entity ids; `evidence` has one
    sentence a line.
    """

    turned: Turned
    entity_ids: tuple[str, ...]
    called: str
    evidence: str
