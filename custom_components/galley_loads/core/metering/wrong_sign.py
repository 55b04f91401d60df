"""What is found to be read the wrong way round."""

from dataclasses import dataclass
from enum import StrEnum

from ..phrase import Phrase


class Turned(StrEnum):
    """What it is that is the wrong way round."""

    BANK = "bank"
    """What a positive reading of the bank means."""

    METER = "meter"
    """A meter of loads or chargers that counts backwards."""


@dataclass(frozen=True, slots=True)
class WrongSign:
    """Sensors that are read the wrong way round, and the evidence.

    `called` is what the crew calls each of them, with its entity id.
    """

    turned: Turned
    entity_ids: tuple[str, ...]
    called: tuple[Phrase, ...]
    evidence: tuple[Phrase, ...]
