"""The present: who draws what of the load at this moment."""

from collections.abc import Container, Mapping
from dataclasses import replace
from typing import Final

from ..boat.boat import Boat
from ..inference.model.activity import Segment
from ..ledger.account import StandbyLookup, idle_standby
from ..ledger.load_split import LoadSplit, split_load
from ..meals.meal_builder import Meal
from ..metering.clock_steps import ClockSet
from ..metering.load_sample import LoadSample
from ..metering.source import Complaint
from .live_board import Shown
from .live_view import ApplianceNow, ApplianceState, LiveView

_NOTHING: Final = Segment(0.0, 0.0)


def look(
    boat: Boat,
    sample: LoadSample,
    segment: Segment | None,
    shown: Shown,
    standby_w: StandbyLookup,
    unsplit_w: Mapping[str, float],
    *,
    perhaps_running: Container[str],
    run_energy_wh: Mapping[str, float],
    current_meal: Meal | None,
    last_meal: Meal | None,
    missing: tuple[Complaint, ...],
    clock_set: ClockSet | None,
) -> LiveView:
    """Return the present by the newest sample, the newest segment and what is shown.

    Of the segment only what appliances' own meters say is taken.

    `standby_w` tells an appliance's standby power in W, or None where it is not known;
    `unsplit_w` what was measured of a circuit and belongs to none of its appliances.
    `perhaps_running` are appliances that run or may go on; `run_energy_wh` has what the
    runs in progress have taken so far, by appliance.
    """
    segment = _as_metered(_with_shown(boat, segment or _NOTHING, shown), sample)
    activities = {activity.appliance: activity for activity in segment.activities}
    idle_w = idle_standby(boat, activities, sample.open_circuits, standby_w)
    load_w: float | None = None
    split: LoadSplit | None = None
    drawn_w = {name: activity.power_w for name, activity in activities.items()}
    standing_w = idle_w
    galley_w = idling_w = background_w = None
    at_least = False
    if sample.load_w is not None:
        # The load is at least what the appliances' own meters show together: these may
        # be seconds ahead of the boat's.
        own_w = sum(drawn_w[name] for name in activities if boat.has_meter(name))
        load_w = max(0.0, sample.load_w, own_w)
        split = split_load(boat, load_w, segment, idle_w)
        drawn_w = {name: split.runs_w[a.run] for name, a in activities.items()}
        standing_w = split.standby_w
        together_w, at_least = _standby_unassigned(
            boat, activities, sample.open_circuits, standby_w, unsplit_w
        )
        together_w = min(together_w, split.background_w)
        background_w = split.background_w - together_w
        known_w = sum(standing_w.values(), together_w)
        galley_w = sum(drawn_w.values(), known_w)
        idling_w = None if at_least and known_w <= 0.0 else known_w
    appliances: list[ApplianceNow] = []
    for appliance in boat.appliances:
        name = appliance.name
        activity = activities.get(name)
        if activity is not None:
            now = ApplianceNow(
                name,
                ApplianceState(activity.phase.value),
                shown.mean_w.get(name, drawn_w[name]),
                activity.run_start_s,
                run_energy_wh.get(name, shown.energy_wh.get(name, 0.0)),
                activity.confidence,
                paused=name in shown.paused,
                is_mean=name in shown.mean_w,
                corrected_from=shown.corrected.get(name),
            )
        else:
            now = ApplianceNow(
                name,
                ApplianceState.STANDBY if name in idle_w else ApplianceState.OFF,
                standing_w.get(name, 0.0),
                may_resume=name in perhaps_running,
            )
        appliances.append(now)
    return LiveView(
        sample.at_s,
        load_w,
        galley_w,
        background_w,
        None if split is None else split.unnamed_w,
        idling_w,
        sample.solar_w,
        sample.battery_w,
        sample.voltage_v,
        sample.soc,
        tuple(appliances),
        current_meal,
        last_meal,
        missing,
        clock_set,
        standby_at_least=at_least,
        candidates=shown.candidates,
    )


def _standby_unassigned(
    boat: Boat,
    running: Container[str],
    open_circuits: Container[str | None],
    standby_w: StandbyLookup,
    unsplit_w: Mapping[str, float],
) -> tuple[float, bool]:
    """Return what idle circuits draw that belongs to no one appliance, W.

    With it comes whether something that is live and idle is of unknown standby.
    """
    members: dict[str | None, list[str]] = {}
    for appliance in boat.appliances:
        if appliance.circuit not in open_circuits:
            members.setdefault(appliance.circuit, []).append(appliance.name)
    total_w, at_least = 0.0, False
    for circuit, names in members.items():
        together_w = None if circuit is None else unsplit_w.get(circuit)
        if together_w is not None and not any(name in running for name in names):
            total_w += together_w
        elif any(name not in running and standby_w(name) is None for name in names):
            at_least = True
    return total_w, at_least


def _with_shown(boat: Boat, segment: Segment, shown: Shown) -> Segment:
    """Return a segment with what is shown in place of what inference says of it."""
    own = tuple(a for a in segment.activities if boat.has_meter(a.appliance))
    # How sure a run is, its shape counts for as well, where inference has the same run.
    sure = {a.appliance: a.confidence for a in segment.activities}
    inferred = (
        replace(a, confidence=sure.get(a.appliance, a.confidence))
        for a in shown.activities
    )
    return replace(segment, activities=(*inferred, *own), unnamed_w=shown.unnamed_w)


def _as_metered(segment: Segment, sample: LoadSample) -> Segment:
    """Return a segment with what the appliances' own meters say at this very moment."""
    told_w = {
        name: power_w for name, power_w in sample.metered_w if power_w is not None
    }
    return replace(
        segment,
        activities=tuple(
            replace(activity, power_w=max(0.0, told_w[activity.appliance]))
            if activity.appliance in told_w
            else activity
            for activity in segment.activities
        ),
    )
