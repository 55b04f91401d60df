"""The engine as the crew is used to run it, within the hours ahead."""

from dataclasses import replace

from custom_components.galley_loads.core.advice.charging_ahead import with_habits
from custom_components.galley_loads.core.advice.scenario import build_scenario
from custom_components.galley_loads.core.advice.starts import bank_model, base_paths
from custom_components.galley_loads.core.outlook.charging_habit import ChargingRun

from .sandpiper import ROAST, ask, at_charge, sandpiper

DAY_S = 86_400.0


def with_engine(view, *, soc: float = 38.0, hour_s: float | None = None):
    """Return the view of a boat whose engine ran in the last days."""
    at_s = view.last.at_s
    runs = tuple(
        ChargingRun(
            at_s - day * DAY_S + (0.0 if hour_s is None else hour_s) + 4000.0 * odd,
            1.5,
            900.0,
            soc + 7 * (hour_s is not None) * (day % 3) + odd / 2,
        )
        for day, odd in ((12, 0), (10, -3 * (hour_s is None)), (8, 2 * (hour_s is None)),
                         (6, 0), (4, 5 * (hour_s is None)), (2, 0))
    )  # fmt: skip
    return replace(view, charging_runs=runs)


def test_a_bank_that_the_crew_never_lets_fall_is_not_told_to_fall():
    plain = at_charge(sandpiper(18.0), 46.0)
    with_habit = with_engine(plain)
    alone, engine = ask(plain, ROAST), ask(with_habit, ROAST)
    assert min(s.soc for s in alone.forecast) < 34.0
    assert min(s.soc for s in engine.forecast) > 36.0
    # With and without are told apart.
    assert alone.chance_without_engine is None
    assert engine.chance_without_engine < 0.5
    assert engine.chance_without > 0.9 > alone.chance_without


def test_a_bank_that_stays_high_needs_no_engine():
    view = at_charge(sandpiper(13.5), 90.0)
    model = bank_model(view, True)
    scenario = build_scenario(view, view.last.at_s, 96)
    same = with_habits(with_engine(view), model, scenario)
    assert same.supply_w == scenario.supply_w


def test_an_engine_by_the_clock_runs_at_its_hour_in_as_many_futures_as_days():
    view = with_engine(at_charge(sandpiper(7.0), 60.0), soc=50.0, hour_s=4 * 3600.0)
    model = bank_model(view, True)
    scenario = build_scenario(view, view.last.at_s, 96)
    ahead = with_habits(view, model, scenario)
    ran = [
        [i for i, (more, less) in enumerate(zip(*rows, strict=True)) if more > less]
        for rows in zip(ahead.supply_w, scenario.supply_w, strict=True)
    ]
    assert all(16 <= step < 22 for steps in ran for step in steps)
    assert 0.6 * len(ran) <= sum(bool(steps) for steps in ran)
    assert base_paths(model, ahead)[0].soc[-1] >= base_paths(model, scenario)[0].soc[-1]
