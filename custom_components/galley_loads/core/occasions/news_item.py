"""One piece of news."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

type Detail = str | float | None


class NewsKind(StrEnum):
    """What there may be to tell."""

    APPLIANCE_STARTED = "appliance_started"
    APPLIANCE_AT_TEMPERATURE = "appliance_at_temperature"
    APPLIANCE_FINISHED = "appliance_finished"
    APPLIANCE_LEFT_RUNNING = "appliance_left_running"
    MEAL_FINISHED = "meal_finished"
    HOT_DRINK_FINISHED = "hot_drink_finished"
    ADVICE_CHANGED = "advice_changed"
    STANDBY_LEFT_ON = "standby_left_on"
    RESERVE_AT_RISK = "reserve_at_risk"
    OVERLOAD_NEAR = "overload_near"


@dataclass(frozen=True, slots=True)
class News:
    """Something that has happened.

    `subject` is what it is about: an appliance, a circuit, a limit, a dish; "" for the
    boat. `details` are few and plain, with the unit in the name.
    """

    kind: NewsKind
    subject: str
    at_s: float
    details: Mapping[str, Detail] = field(default_factory=dict)
