"""The simulated boat keeps its books, and its meters misbehave only as asked."""

import csv
from dataclasses import replace
import gzip
import json
from pathlib import Path
import random

from hypothesis import given, settings, strategies as st
import pytest
import yaml

from custom_components.galley_loads.core.kinds.catalogue import KINDS
from demo.simulator import (
    PlannedRun,
    SimOptions,
    Simulation,
    Task,
    random_boat,
    simulate,
)
from demo.simulator.__main__ import main
from demo.simulator.appliances import MAKES, draw_appliance
from demo.simulator.pieces import duration_s, energy_wh


def simulated(seed: int, options: SimOptions) -> Simulation:
    return simulate(random_boat(seed, options), seed, options)


UNKIND = SimOptions(
    days=1.5,
    appliances=7,
    drift=0.02,
    ramps=True,
    inrush=True,
    unnamed_per_day=3,
    fridge_on_ac=True,
    dropouts_per_day=6,
    relays=True,
    period_s=5,
)


def test_every_kind_of_the_boat_file_is_simulated() -> None:
    assert set(MAKES) == {str(kind) for kind in KINDS}


@pytest.mark.parametrize("kind", sorted(MAKES))
@given(seed=st.integers(0, 10_000))
@settings(max_examples=8, deadline=None)
def test_a_run_of_any_kind_is_a_run_that_a_cook_would_recognise(
    kind: str, seed: int
) -> None:
    rng = random.Random(seed)
    options = SimOptions(ramps=seed % 2 == 0, inrush=True, drift=0.02)
    appliance = draw_appliance(rng, kind, options)
    run = appliance.run(rng, Task(), options, 0.01)
    assert all(seconds > 0 for seconds, _ in run)
    assert all(0 <= watts <= 1.6 * appliance.power_w for _, watts in run)
    assert run[0][1] > 0
    assert run[-1][1] > 0
    assert 30 <= duration_s(run) <= 9 * 3600
    assert 5 <= energy_wh(run) <= 2200
    assert appliance.rated_w == pytest.approx(appliance.power_w, rel=0.17)


@given(
    seed=st.integers(0, 1000), dc_only=st.booleans(), dc_appliances=st.integers(0, 2)
)
@settings(max_examples=6, deadline=None)
def test_the_load_is_exactly_the_sum_of_what_drew_it(
    seed: int, dc_only: bool, dc_appliances: int
) -> None:
    options = replace(UNKIND, dc_only=dc_only, dc_appliances=dc_appliances, days=1.0)
    truth = simulated(seed, options).truth
    parts = (
        sum(run.energy_wh for run in truth.runs)
        + sum(truth.standby_wh.values())
        + truth.background_wh
        + truth.unnamed_wh
        + truth.conversion_wh
    )
    assert parts == pytest.approx(truth.load_wh, rel=1e-9)
    for name, row in truth.grid.items():
        supply = next(
            a.supply for a in simulated(seed, options).boat.appliances if a.name == name
        )
        if supply == "ac":
            assert sum(row) * 10 / 3600 == pytest.approx(
                truth.appliance_wh[name], abs=0.01
            )


def test_the_meter_shows_what_was_drawn() -> None:
    result = simulated(11, SimOptions(days=1.5, clock_lag_s=0))
    joules, before_s, before_w = 0.0, result.truth.start_s, 0.0
    for entity_id, state, at_s in result.rows():
        if entity_id == "sensor.ac_load_power":
            joules += before_w * (at_s - before_s)
            before_s, before_w = at_s, float(state)
    joules += before_w * (result.truth.end_s - before_s)
    assert joules / 3600 == pytest.approx(result.truth.load_wh, rel=0.01)


def test_the_bank_gains_what_flows_into_it() -> None:
    """Coulomb counting over the truth, charge efficiency 0.995."""
    result = simulated(6, SimOptions(days=1.0))
    supply, bank = result.supply, result.boat.bank
    charge_as = 0.0
    for cell, power_w in enumerate(supply.bank_w):
        at_s = result.truth.start_s + 10 * cell
        amperes = power_w / supply.voltage_at(at_s, power_w)
        charge_as += 10 * amperes * (0.995 if amperes > 0 else 1.0)
    change = supply.soc[-1] - supply.soc[0]
    assert change == pytest.approx(100 * charge_as / 3600 / bank.capacity_ah, abs=0.1)
    assert 0 < min(supply.soc) <= max(supply.soc) <= 100


def test_the_same_seed_tells_the_same_story_twice() -> None:
    options = replace(UNKIND, days=0.6, late_share=0.01, doubled_share=0.01)
    once, again = simulated(5, options), simulated(5, options)
    assert once.truth.runs == again.truth.runs
    assert list(once.rows()) == list(once.rows()) == list(again.rows())
    assert simulated(6, options).truth.runs != once.truth.runs


@given(seed=st.integers(0, 1000))
@settings(max_examples=5, deadline=None)
def test_the_crew_respects_the_inverter_its_relays_and_its_appliances(
    seed: int,
) -> None:
    options = replace(UNKIND, inrush=False)
    result = simulated(seed, options)
    assert (
        max(result.supply.dc_load.power_w)
        <= result.boat.inverter.dc_w(result.boat.inverter.limit_w) + 400
    )
    closed: dict[str, list[tuple[float, str]]] = {}
    for entity_id, state, at_s in result.switches:
        closed.setdefault(entity_id, []).append((at_s, state))
    for run in result.truth.runs:
        circuit = result.boat.appliance(run.appliance).circuit
        assert circuit is not None
        relay = "switch." + circuit.lower().replace(" ", "_")
        before = [state for at_s, state in closed[relay] if at_s <= run.start_s]
        within = [s for at_s, s in closed[relay] if run.start_s < at_s < run.end_s]
        assert before[-1] == "on"
        assert "off" not in within
    by_name: dict[str, float] = {}
    for run in sorted(result.truth.runs, key=lambda run: run.start_s):
        assert run.start_s >= by_name.get(run.appliance, 0.0)
        by_name[run.appliance] = run.end_s


@given(seed=st.integers(0, 1000))
@settings(max_examples=5, deadline=None)
def test_meals_are_half_an_hour_apart_and_have_no_hot_water_in_them(seed: int) -> None:
    options = SimOptions(
        days=3, kinds=("induction_hob", "kettle", "toaster", "water_heater")
    )
    truth = simulated(seed, options).truth
    cooking = [run for run in truth.runs if run.appliance != "Water heater"]
    assert sum(meal.energy_wh for meal in truth.meals) == pytest.approx(
        sum(run.energy_wh for run in cooking)
    )
    for meal, following in zip(truth.meals, truth.meals[1:], strict=False):
        assert following.start_s - meal.end_s >= 1800
    for meal in truth.meals:
        assert "Water heater" not in meal.appliances
        inside = sorted(
            (r.start_s, r.end_s)
            for r in cooking
            if meal.start_s <= r.start_s <= meal.end_s
        )
        reached = inside[0][1]
        for start_s, end_s in inside[1:]:
            assert start_s - reached < 1800
            reached = max(reached, end_s)


def test_a_sensor_reports_only_changes_on_its_own_clock() -> None:
    result = simulated(2, SimOptions(days=0.5, quantum_w=10, period_s=5, dc_only=True))
    rows = list(result.rows())
    assert [row[2] for row in rows] == sorted(row[2] for row in rows)
    last: dict[str, tuple[str, float]] = {}
    for entity_id, state, at_s in rows:
        if entity_id in last:
            assert state != last[entity_id][0]
            assert at_s > last[entity_id][1]
        last[entity_id] = (state, at_s)
    assert "sensor.ac_load_power" not in last
    assert {entity.partition(".")[0] for entity in last} == {"sensor"}


def test_readings_get_lost_come_late_and_come_twice_when_asked() -> None:
    options = replace(UNKIND, days=1.0, late_share=0.02, doubled_share=0.02)
    rows = list(simulated(8, options).rows())
    assert any(state == "unavailable" for _, state, _ in rows)
    assert [row[2] for row in rows] != sorted(row[2] for row in rows)
    assert len(set(rows)) < len(rows)
    ordered = simulated(8, replace(options, late_share=0.0, doubled_share=0.0)).rows()
    assert set(rows) == set(ordered)


def test_an_appliance_with_its_own_meter_shows_its_own_power() -> None:
    options = SimOptions(
        days=1.5, kinds=("oven", "kettle"), metered=("oven",), clock_lag_s=0
    )
    result = simulated(4, options)
    joules, before_s, before_w = 0.0, result.truth.start_s, 0.0
    for entity_id, state, at_s in result.rows():
        if entity_id == "sensor.oven_meter":
            joules += before_w * (at_s - before_s)
            before_s, before_w = at_s, float(state)
    expected = result.truth.appliance_wh["Oven"] + result.truth.standby_wh["Oven"]
    assert joules / 3600 == pytest.approx(expected, rel=0.02, abs=15)


def test_what_is_planned_happens_when_it_is_planned() -> None:
    options = SimOptions(days=1.0, kinds=("oven", "kettle"))
    boat = random_boat(1, options)
    start_s = simulate(boat, 1, options).truth.start_s
    noon_s = start_s + 43_200
    result = simulate(
        boat,
        1,
        options,
        planned=[PlannedRun("Kettle", noon_s, Task(litres=1.0))],
        away=[(start_s, start_s + 86_400)],
        weather="clear",
    )
    assert [(run.appliance, run.start_s) for run in result.truth.runs] == [
        ("Kettle", noon_s)
    ]


def test_the_command_writes_a_boat_its_history_and_its_truth(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert (
        main(["--seed", "3", "--days", "1", "--dc-only", "--out", str(tmp_path)]) == 0
    )
    assert "runs" in capsys.readouterr().out
    boat = yaml.safe_load((tmp_path / "boat.yaml").read_text())
    assert "ac_load_power" not in boat["sensors"]
    with gzip.open(tmp_path / "history.csv.gz", "rt") as file:
        table = list(csv.reader(file))
    assert table[0] == ["entity_id", "state", "last_changed"]
    assert table[1][2].endswith("Z")
    with gzip.open(tmp_path / "truth.json.gz", "rt") as file:
        truth = json.load(file)
    assert truth["seconds"] == 86_400
    assert set(truth["grid"]) == {a["name"] for a in boat["appliances"]}
    assert all(len(row) == 8640 for row in truth["grid"].values())
    assert main(["--kinds", "campfire", "--out", str(tmp_path)]) == 2
    assert "campfire" in capsys.readouterr().err
