"""The bank's day ahead as it goes by itself, and the sun to spare at the moment.

What is shown when nobody asks about a dish: the charge to be expected at sunrise, its
lowest, when the bank is full, and the sun of today and tomorrow by hour.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ..live.live_view import LiveView
from ..metering.load_sample import LoadSample
from ..metering.quarter_hours import turns_sun_away
from ..outlook.outlook_view import OutlookView
from ..phrase import Phrase
from ..sky.quantiles import quantile
from ..sky.sun import next_sunrise_s
from .advise import forecast_steps, present_clear_sky_index
from .answer import ForecastStep
from .charging_ahead import with_habits
from .freshness import check_freshness
from .grid import STEP_H, STEPS_PER_DAY, Grid
from .left_to_cook import LOOK_STEPS, LeftToCook, left_to_cook
from .scenario import Scenario, build_scenario, sun_ahead
from .starts import bank_model, base_paths

FULL_SOC: Final = 99.5
HOUR_S: Final = 3600
SUN_DAYS: Final = 2


@dataclass(frozen=True, slots=True)
class DayAhead:
    """The hours from `at_s` on without any planned dish.

    Charges in percent, None where the readings cannot carry them; `missing` says why.
    `sun_wh` is the expected sun by full hour (Unix time of its start), Wh at the array,
    for two days. `course` is the first of them by quarter hours.
    """

    at_s: float
    missing: tuple[Phrase, ...]
    sun_wh: dict[int, float]
    clear_sky_index: float | None
    sunrise_s: float | None
    course: tuple[ForecastStep, ...] = ()
    soc_at_sunrise: float | None = None
    soc_lowest: float | None = None
    lowest_at_s: float | None = None
    full_at_s: float | None = None
    left: LeftToCook | None = None


def day_ahead(
    view: OutlookView,
    at_s: float,
    *,
    said: Sequence[Phrase] = (),
    newest_reading_s: float | None = None,
    cooking_now: str | None = None,
) -> DayAhead:
    """Return what sun and bank are expected to do. Pure, fit for another thread.

    The arguments are those of `advise`.
    """
    missing = check_freshness(view, at_s, said, newest_reading_s).missing
    steps = SUN_DAYS * STEPS_PER_DAY
    sun_w = sun_ahead(view, Grid(at_s, steps))
    scenario = build_scenario(view, at_s, steps, (), cooking_now, solar_w=sun_w)
    sunrise_s = next_sunrise_s(*view.position, at_s)
    sun_wh = _sun_by_hour(scenario)
    clear_sky_index = present_clear_sky_index(view, at_s)
    if missing:
        return DayAhead(at_s, missing, sun_wh, clear_sky_index, sunrise_s)
    model = bank_model(view, scenario.takes_charge)
    scenario = with_habits(view, model, scenario)
    paths = base_paths(model, scenario)
    course = [
        quantile(sorted(path.soc[i] for path in paths), 0.5)
        for i in range(STEPS_PER_DAY + 1)
    ]
    lowest = min(range(len(course)), key=course.__getitem__)
    full = next((i for i in range(1, len(course)) if course[i] >= FULL_SOC), None)
    grid = scenario.grid
    at_sunrise = None
    if sunrise_s is not None:
        at_sunrise = max(course[min(grid.index(sunrise_s), STEPS_PER_DAY)], 0.0)
    return DayAhead(
        at_s,
        (),
        sun_wh,
        clear_sky_index,
        sunrise_s,
        forecast_steps(view, scenario, paths),
        at_sunrise,
        max(course[lowest], 0.0),
        grid.time_s(lowest),
        None if full is None else grid.time_s(full),
        left_to_cook(
            view, model, at_s, cooking_now, [row[:LOOK_STEPS] for row in sun_w]
        ),
    )


def _sun_by_hour(scenario: Scenario) -> dict[int, float]:
    """Return the mean of the possible suns, Wh by full hour.

    Steps that reach over a full hour are shared between the two; the hour that has begun
    counts only what is left of it.
    """
    grid, members = scenario.grid, len(scenario.solar_w)
    sun_wh: dict[int, float] = {}
    for i in range(grid.steps):
        energy_wh = sum(row[i] for row in scenario.solar_w) / members * STEP_H
        start_s, end_s = grid.time_s(i), grid.time_s(i + 1)
        hour = int(start_s // HOUR_S) * HOUR_S
        share = min((hour + HOUR_S - start_s) / (end_s - start_s), 1.0)
        sun_wh[hour] = sun_wh.get(hour, 0.0) + energy_wh * share
        if share < 1.0:
            later = hour + HOUR_S
            sun_wh[later] = sun_wh.get(later, 0.0) + energy_wh * (1.0 - share)
    return sun_wh


def surplus_sun_w(
    view: OutlookView, live: LiveView, clear_sky_index: float | None
) -> float | None:
    """Return the sun that nothing aboard uses now, W at the bank's side.

    It goes into the bank or, where that is full, to waste; in the latter case what the
    array would give is reckoned from the clear sky and today's clear-sky index. None where sun
    or demand are not measured, 0 on a boat without an array.
    """
    if not view.has_sun:
        return 0.0
    if live.solar_w is None:
        return None
    sun_w = max(live.solar_w, 0.0)
    demand_w = _demand_w(view, live, sun_w)
    if demand_w is None:
        return None
    sample = LoadSample(
        live.at_s,
        live.load_w,
        live.solar_w,
        battery_w=live.battery_w,
        voltage_v=live.voltage_v,
        soc=live.soc,
    )
    if clear_sky_index is not None and turns_sun_away(view.boat, sample):
        sun_w = max(sun_w, view.clear_power_w(live.at_s) * clear_sky_index)
    return max(sun_w - demand_w, 0.0)


def _demand_w(view: OutlookView, live: LiveView, sun_w: float) -> float | None:
    """Return what the sun has to carry: all draws, less what another charger gives."""
    if live.battery_w is not None:
        # Sun and other charging less what goes into the bank; were the other charger to
        # carry it all, none of the sun would be needed.
        return max(sun_w - max(live.battery_w, 0.0), 0.0)
    if live.load_w is None:
        return None
    return view.conversion.dc_w(max(live.load_w, 0.0))
