"""A whole history through the engine, and what came of it."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import batched
from typing import Any, Final

from ..boat.boat import Boat
from ..engine import READINGS_AT_ONCE, Engine, Tell
from ..events import Event, MealSettled, RunSettled, SpanSettled
from ..inference.model.activity import Run
from ..meals.meal_builder import Meal
from ..metering.reading import Reading
from ..metering.wrong_sign import Turned, WrongSign
from ..phrase import Phrase, phrase
from .turns import Hear, Look, Turns

READINGS_PER_REPORT: Final = 20 * READINGS_AT_ONCE

type ReplayProgress = Callable[[float], None]
"""Called now and then with the Unix time that the replay has reached."""


@dataclass(frozen=True, slots=True)
class StandbyAccount:
    """What one appliance drew while its circuit was live and nobody cooked with it."""

    appliance: str
    circuit: str | None
    mean_w: float
    energy_wh: float


@dataclass(frozen=True, slots=True)
class LearntPower:
    """What the runs of one appliance taught about its powers."""

    appliance: str
    rated_w: float
    standby_w: float | None
    runs: int


@dataclass(frozen=True, slots=True)
class Report:
    """What a history tells. Energies are Wh on the AC side.

    `from_s` and `to_s` are the times of the first and the last reading, None if there was
    none. `meal_of` has, for each run, the index of its meal, None for hot water. `remarks`
    are about sensors that are read the wrong way round, or missing at the end.
    """

    boat: Boat
    from_s: float | None
    to_s: float | None
    runs: tuple[Run, ...]
    meal_of: tuple[int | None, ...]
    meals: tuple[Meal, ...]
    standby: tuple[StandbyAccount, ...]
    appliance_wh: dict[str, float]
    background_wh: float
    unassigned_wh: float
    load_wh: float
    unmeasured_s: float
    learnt: tuple[LearntPower, ...]
    readings: int
    remarks: tuple[Phrase, ...] = ()


class _Gathering:
    """Keeps of the engine's events what the report needs, which is little."""

    def __init__(self) -> None:
        self.runs: list[Run] = []
        self.meals: list[Meal] = []
        self.standby_s: dict[str, float] = {}
        self.accounted_s = 0.0

    def take(self, events: Iterable[Event]) -> None:
        for event in events:
            if isinstance(event, RunSettled):
                self.runs.append(event.run)
            elif isinstance(event, MealSettled):
                self.meals.append(event.meal)
            elif isinstance(event, SpanSettled):
                flow = event.flow
                self.accounted_s += flow.end_s - flow.start_s
                measured_s = flow.end_s - flow.start_s - flow.unmeasured_s
                for name in flow.standby_wh:
                    self.standby_s[name] = self.standby_s.get(name, 0.0) + measured_s


@dataclass(frozen=True, slots=True)
class Crew:
    """Somebody who watches a history happen: sees what is shown, hears what is settled."""

    look: Look
    hear: Hear


def replay(
    boat: Boat,
    readings: Iterable[Reading],
    progress: ReplayProgress | None = None,
    crew: Crew | None = None,
) -> Report:
    """Feed a history, in order of time, through the engine and return the report.

    With a crew the readings come at the pace of the platform, which takes longer; the
    report is the same.
    """
    engine = Engine(boat)
    gathering = _Gathering()
    first_s: float | None = None
    last_s: float | None = None
    count = 0
    turns: Turns | None = None
    if crew is not None:
        turns = Turns(engine, crew.look, _both(gathering.take, crew.hear))
    for some in batched(readings, READINGS_AT_ONCE, strict=False):
        if first_s is None:
            first_s = some[0].at_s
        last_s = some[-1].at_s
        if turns is None:
            engine.feed_all(some, gathering.take)
        else:
            turns.feed_all(some)
        count += len(some)
        if progress is not None and count % READINGS_PER_REPORT == 0:
            progress(last_s)
    if turns is not None:
        turns.finish()
    gathering.take(engine.finish())
    return _report(engine, gathering, first_s, last_s, count)


def _both(take: Tell, hear: Hear) -> Hear:
    def hear_both(at_s: float, events: list[Event]) -> None:
        take(events)
        hear(at_s, events)

    return hear_both


def _report(
    engine: Engine,
    gathering: _Gathering,
    first_s: float | None,
    last_s: float | None,
    count: int,
) -> Report:
    boat, totals = engine.boat, engine.totals
    span_s = 0.0 if first_s is None or last_s is None else last_s - first_s
    meals = sorted(gathering.meals, key=lambda meal: meal.start_s)
    runs = sorted(gathering.runs, key=lambda run: (run.start_s, run.appliance))
    meal_index = {
        (run.appliance, run.start_s): index
        for index, meal in enumerate(meals)
        for run in meal.runs
    }
    standby = tuple(
        StandbyAccount(
            appliance.name,
            appliance.circuit,
            energy_wh * 3600 / gathering.standby_s[appliance.name],
            energy_wh,
        )
        for appliance in boat.appliances
        for energy_wh in (totals.standby_wh.get(appliance.name, 0.0),)
        if energy_wh > 0 and gathering.standby_s.get(appliance.name)
    )
    learnt = tuple(
        LearntPower(name, power.rated_w, power.standby_w, power.runs)
        for name, power in engine.inference.learned.items()
    )
    return Report(
        boat,
        first_s,
        last_s,
        tuple(runs),
        tuple(meal_index.get((run.appliance, run.start_s)) for run in runs),
        tuple(meals),
        standby,
        {a.name: totals.appliance_wh.get(a.name, 0.0) for a in boat.appliances},
        totals.background_wh,
        totals.unassigned_wh,
        totals.load_wh,
        # Before the first value of any sensor there is nothing to account for.
        totals.unmeasured_s + max(0.0, span_s - gathering.accounted_s),
        learnt,
        count,
        (
            *(_turn_round(sign, boat) for sign in engine.wrong_signs()),
            *(complaint.said for complaint in engine.missing),
        ),
    )


def _turn_round(sign: WrongSign, boat: Boat) -> Phrase:
    """Return what the boat file has to say of sensors, and why."""
    if sign.turned is Turned.METER:
        needed = "reversed: true"
    else:
        means = "discharging" if boat.sensors.battery_sign > 0 else "charging"
        needed = f"battery_power_positive: {means}"
    return phrase(
        "sign.wrong_way_round",
        sensors=phrase("sign.sensors", sensors=sign.called),
        needed=needed,
        evidence=sign.evidence,
    )


def iso_time(at_s: float | None) -> str | None:
    """Return a Unix time as ISO 8601 in UTC, to the millisecond."""
    if at_s is None:
        return None
    text = datetime.fromtimestamp(at_s, UTC).isoformat(timespec="milliseconds")
    return text.replace("+00:00", "Z")


def report_to_json(report: Report) -> dict[str, Any]:
    """Return the report as plain data, fit for JSON; its remarks aside, which are no data.

    Times are ISO 8601 in UTC. `meal` of a run is its meal's index in `meals`, None for hot
    water from a heater, which is never part of one.
    """
    return {
        "boat": report.boat.name,
        "from": iso_time(report.from_s),
        "to": iso_time(report.to_s),
        "runs": [
            _run_to_json(run, meal)
            for run, meal in zip(report.runs, report.meal_of, strict=True)
        ],
        "meals": [_meal_to_json(meal) for meal in report.meals],
        "standby": [
            {
                "appliance": account.appliance,
                "circuit": account.circuit,
                "mean_w": _rounded(account.mean_w),
                "energy_wh": _rounded(account.energy_wh),
            }
            for account in report.standby
        ],
        "appliance_wh": {n: _rounded(wh) for n, wh in report.appliance_wh.items()},
        "background_wh": _rounded(report.background_wh),
        "unassigned_wh": _rounded(report.unassigned_wh),
        "load_wh": _rounded(report.load_wh),
        "unmeasured_s": _rounded(report.unmeasured_s),
        "learned": {
            power.appliance: {
                "rated_w": _rounded(power.rated_w),
                "standby_w": _rounded(power.standby_w),
                "runs": power.runs,
            }
            for power in report.learnt
        },
        "readings": report.readings,
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def _run_to_json(run: Run, meal: int | None) -> dict[str, Any]:
    return {
        "appliance": run.appliance,
        "start": iso_time(run.start_s),
        "end": iso_time(run.end_s),
        "energy_wh": _rounded(run.energy_wh),
        "peak_w": _rounded(run.peak_w),
        "confidence": _rounded(run.confidence),
        "phases": [
            {
                "phase": span.phase.value,
                "start": iso_time(span.start_s),
                "end": iso_time(span.end_s),
            }
            for span in run.phases
        ],
        "meal": meal,
    }


def _meal_to_json(meal: Meal) -> dict[str, Any]:
    return {
        "start": iso_time(meal.start_s),
        "end": iso_time(meal.end_s),
        "label": meal.label,
        "appliances": list(meal.appliances),
        "energy_wh": _rounded(meal.energy_wh),
        "bank_ah": _rounded(meal.bank_ah),
        "drawn_ah": _rounded(meal.drawn_ah),
        "net_ah": _rounded(meal.net_ah),
        "solar_share": _rounded(meal.solar_share),
        "soc_start": _rounded(meal.soc_start),
        "soc_end": _rounded(meal.soc_end),
    }
