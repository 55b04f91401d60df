"""What becomes an event for automations: each occurrence once, when it is sure enough.

The first moment after a start is what everything later is compared with; nothing in it is
an event. So a restart in the middle of a meal repeats nothing, and what begins while nobody
watches is not reported at all. A run is reported as ended only if its start was.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final

from .occurrence import OF_RUNS, Fact, Occurrence, OccurrenceKind
from .run_occurrences import KEEPS_WARM

EVENT_KINDS: Final = OF_RUNS | {
    OccurrenceKind.MEAL_FINISHED,
    OccurrenceKind.HOT_DRINK_FINISHED,
    OccurrenceKind.ADVICE_CHANGED,
    OccurrenceKind.STANDBY_LEFT_ON,
    OccurrenceKind.RESERVE_AT_RISK,
    OccurrenceKind.OVERLOAD_NEAR,
}

STARTED_CONFIRMED_S: Final = 20.0
"""How long a run is seen before its start is reported."""

STARTED_CERTAINTY: Final = 0.5
RUN_CERTAINTY: Final = 0.8
"""A run that was doubtful for more of its time was perhaps another appliance's."""

STALE_S: Final = 900.0
"""What is noticed later than this (after a gap in the readings) is reported only if it is
as sure as the end of a run has to be, or nobody stood by."""

_MOST_KEPT: Final = 500

type Detail = str | float | None


@dataclass(frozen=True, slots=True)
class AutomationEvent:
    """One thing that automations hear.

    `subject` is what it is about: an appliance, a circuit, a limit, a dish; "" for the
    boat. `at_s` is when it is reported, of a meal when it ended. `details` are few and
    plain, with the unit in the name. `certainty` is the occurrence's, 0 to 1.
    """

    kind: OccurrenceKind
    subject: str
    at_s: float
    details: Mapping[str, Detail] = field(default_factory=dict)
    certainty: float = 1.0


class EventFilter:
    """Reports each occurrence that automations may hear of, once."""

    def __init__(self) -> None:
        """Start with nothing reported."""
        self._reported: dict[str, None] = {}
        self._first = True

    def observe(
        self, at_s: float, occurrences: Iterable[Occurrence]
    ) -> list[AutomationEvent]:
        """Take all that matters at a moment; return what is to be reported of it."""
        first, self._first = self._first, False
        events: list[AutomationEvent] = []
        for occurrence in occurrences:
            if occurrence.kind not in EVENT_KINDS or self._is_reported(occurrence):
                continue
            if first:
                self._remember(occurrence)
            elif self._is_due(at_s, occurrence):
                self._remember(occurrence)
                events.append(event_of_occurrence(occurrence, at_s))
        return events

    def take(self, occurrences: Iterable[Occurrence]) -> list[AutomationEvent]:
        """Take what has just been settled or advised, between moments."""
        events: list[AutomationEvent] = []
        for occurrence in occurrences:
            if not self._is_reported(occurrence):
                self._remember(occurrence)
                events.append(event_of_occurrence(occurrence, occurrence.at_s))
        return events

    def _is_due(self, at_s: float, occurrence: Occurrence) -> bool:
        """Return whether an occurrence is sure enough by now, and no old story."""
        certainty = occurrence.certainty
        match occurrence.kind:
            case OccurrenceKind.STARTED:
                fresh = at_s - occurrence.at_s <= STALE_S
                least = STARTED_CERTAINTY if fresh else RUN_CERTAINTY
                lasted = occurrence.number("run_s") >= STARTED_CONFIRMED_S
                return lasted and certainty >= least
            case OccurrenceKind.FINISHED:
                if certainty < RUN_CERTAINTY or not self._has_begun(occurrence):
                    return False
                if occurrence.variant == KEEPS_WARM:
                    return is_unattended(occurrence)
                return occurrence.number("late_s") <= STALE_S or is_unattended(
                    occurrence
                )
            case OccurrenceKind.AT_TEMPERATURE | OccurrenceKind.LEFT_RUNNING:
                return certainty >= RUN_CERTAINTY and self._has_begun(occurrence)
            case _:
                return True

    def _has_begun(self, occurrence: Occurrence) -> bool:
        """Return whether the start of the same run was reported."""
        start = f"{OccurrenceKind.STARTED.value}|{occurrence.subject}|{occurrence.key}"
        return start in self._reported

    def _is_reported(self, occurrence: Occurrence) -> bool:
        return occurrence.identity in self._reported

    def _remember(self, occurrence: Occurrence) -> None:
        """Remember the newest; what an older one was about has long been over."""
        self._reported[occurrence.identity] = None
        while len(self._reported) > _MOST_KEPT:
            del self._reported[next(iter(self._reported))]

    def snapshot(self) -> list[str]:
        """Return what was reported, as JSON-able data."""
        return list(self._reported)

    def restore(self, state: Iterable[str]) -> None:
        """Take up what was reported from `snapshot`."""
        self._reported = dict.fromkeys(state)


def is_unattended(finished: Occurrence) -> bool:
    """Return whether the end of this run is one that somebody waits for elsewhere.

    Its appliance ends by itself, it was long enough to have cooked, and it cannot well
    have been another's.
    """
    facts = finished.facts
    return bool(facts["by_itself"]) and not (facts["mistakable"] or facts["brief"])


def event_of_occurrence(occurrence: Occurrence, at_s: float) -> AutomationEvent:
    """Return an occurrence as automations hear it, numbers rounded to what is known."""
    return AutomationEvent(
        occurrence.kind,
        occurrence.subject,
        at_s,
        _details(occurrence),
        round(occurrence.certainty, 2),
    )


def _details(occurrence: Occurrence) -> dict[str, Detail]:
    facts = occurrence.facts
    match occurrence.kind:
        case OccurrenceKind.STARTED:
            return {"started_s": _rounded(facts["started_s"], 1)}
        case kind if kind in OF_RUNS:
            return {
                "started_s": _rounded(facts["started_s"], 1),
                "minutes": round(occurrence.number("run_s") / 60.0, 1),
            }
        case OccurrenceKind.STANDBY_LEFT_ON:
            return {
                "idle_minutes": round(occurrence.number("idle_s") / 60.0, 1),
                "standby_w": _rounded(facts["standby_w"], 1),
            }
        case OccurrenceKind.RESERVE_AT_RISK:
            return {
                "lowest_soc": _rounded(facts["lowest_soc"], 1),
                "lowest_at_s": _rounded(facts["lowest_at_s"], 1),
                "chance": _rounded(facts["chance"], 2),
            }
        case OccurrenceKind.OVERLOAD_NEAR:
            return {
                "load_w": _rounded(facts["load_w"], 1),
                "used": _rounded(facts["used"], 1),
                "limit": _rounded(facts["limit"], 1),
                "unit": occurrence.text("unit"),
                "stop": occurrence.text("stop"),
            }
        case OccurrenceKind.MEAL_FINISHED | OccurrenceKind.HOT_DRINK_FINISHED:
            return _meal_details(occurrence)
        case _:
            return {name: _rounded(value, 1) for name, value in facts.items()}


def _meal_details(occurrence: Occurrence) -> dict[str, Detail]:
    facts = occurrence.facts
    details: dict[str, Detail] = {
        "appliances": ", ".join(occurrence.names("appliances")),
        "started_s": _rounded(facts["started_s"], 1),
        "energy_wh": _rounded(facts["energy_wh"], 1),
        "bank_ah": _rounded(facts["bank_ah"], 2),
        "sun_share": _rounded(facts["sun_share"], 3),
    }
    if (dish := occurrence.text("dish")) is not None:
        details |= {
            "dish": dish,
            "expected_wh": _rounded(facts["expected_wh"], 1),
            "difference_wh": _rounded(facts["difference_wh"], 1),
        }
    return details


def _rounded(value: Fact, digits: int) -> Detail:
    if isinstance(value, tuple):
        return ", ".join(value)
    return round(value, digits) if isinstance(value, float) else value
