"""What each kind does, inferred from one coarse reading of the load."""

from math import exp
import random

import pytest

from custom_components.galley_loads.core.inference.inference import Inference
from custom_components.galley_loads.core.inference.model.activity import Phase
from custom_components.galley_loads.core.kinds import catalogue

from .galley import (
    BATH,
    BREAD_MAKER,
    COFFEE,
    HEATER,
    HOB,
    KETTLE,
    MICROWAVE,
    OVEN,
    RICE,
    START_S,
    TOASTER,
    appliance,
    boat,
    drawn,
    names,
    reported,
    runs_of,
    settled,
)

LIFT = [(300.0, 1300.0), (8.0, 5.0), (300.0, 1300.0)]
BAKING = [(480.0, 1480.0), *[(120.0, 35.0), (60.0, 1480.0)] * 8]
SIMMER = [(300.0, 1700.0), *[(4.0, 6.0), (6.0, 800.0)] * 60]


def test_a_kettle_is_one_rectangle():
    runs = reported(boat(KETTLE, HOB, OVEN), drawn((900, [(180.0, 1960.0)])))
    assert names(runs) == ["Kettle"]
    assert runs[0].start_s == pytest.approx(900, abs=5)
    assert runs[0].end_s == pytest.approx(1080, abs=5)
    assert runs[0].energy_wh == pytest.approx(98.0, rel=0.02)


def test_a_lifted_pan_does_not_end_the_run():
    runs = reported(boat(HOB, KETTLE), drawn((600, LIFT)))
    assert names(runs) == ["Hob"]
    assert runs[0].end_s - runs[0].start_s == pytest.approx(608, abs=8)
    assert min(runs[0].powers) < 30.0


def test_a_hob_steps_through_its_levels():
    pieces = [(240.0, 1750.0), (200.0, 1200.0), (260.0, 700.0)]
    runs = reported(boat(HOB, KETTLE, TOASTER), drawn((600, pieces)))
    assert names(runs) == ["Hob"]
    assert runs[0].energy_wh == pytest.approx(233.9, rel=0.03)


def test_a_hob_that_pulses_at_a_low_level_is_one_run():
    runs = reported(boat(HOB, KETTLE), drawn((600, SIMMER)))
    assert names(runs) == ["Hob"]
    assert runs[0].end_s - runs[0].start_s == pytest.approx(900, abs=15)
    assert runs[0].phases == {Phase.HEATING, Phase.HOLDING}


def test_an_oven_cycles_over_its_fan():
    runs = reported(boat(OVEN, HOB, KETTLE), drawn((600, BAKING), until_s=6000))
    assert names(runs) == ["Oven"]
    assert runs[0].end_s - runs[0].start_s == pytest.approx(1920, abs=20)
    assert runs[0].energy_wh == pytest.approx(404.0, rel=0.03)


def test_a_water_bath_heats_tapers_and_pulses():
    pieces = [
        (900.0, 980.0),
        *[(12.0, 980.0 - 40.0 * step) for step in range(20)],
        *[(16.0, 12.0), (4.0, 980.0)] * 60,
    ]
    runs = reported(boat(BATH, KETTLE, HOB), drawn((600, pieces), until_s=6000))
    assert "Water bath" in names(runs)
    longest = max(runs, key=lambda run: run.end_s - run.start_s)
    assert longest.appliance == "Water bath"
    assert longest.end_s - longest.start_s == pytest.approx(2340, rel=0.05)


def test_a_bath_that_throttles_heats_until_it_gives_half_of_its_power():
    slide = [(20.0, 980.0 - 40.0 * step) for step in range(20)]
    samples = drawn((600, [(900.0, 980.0), *slide, (1200.0, 160.0)]), until_s=6000)
    inference = Inference(boat(BATH, HOB, KETTLE))
    held = {
        round(segment.start_s - START_S)
        for segment in settled(inference, samples)
        for activity in segment.activities
        if activity.phase is Phase.HOLDING
    }
    at_half_s = 600 + 900 + 20 * 12.25
    assert min(held) == pytest.approx(at_half_s, abs=45)


def test_a_rice_cooker_drops_to_keep_warm():
    pieces = [(1200.0, 490.0), (1500.0, 40.0)]
    runs = reported(boat(RICE, HOB, KETTLE), drawn((600, pieces), until_s=6000))
    assert names(runs) == ["Rice cooker"]
    assert runs[0].end_s - runs[0].start_s == pytest.approx(2700, abs=30)
    assert Phase.HOLDING in runs[0].phases


def test_a_coffee_maker_keeps_warm_with_minutes_between_its_pulses():
    pieces = [(240.0, 880.0), *[(240.0, 0.0), (20.0, 880.0)] * 7]
    runs = reported(boat(COFFEE, KETTLE, HOB), drawn((600, pieces), until_s=6000))
    assert names(runs) == ["Coffee maker"]
    assert runs[0].end_s - runs[0].start_s == pytest.approx(2060, abs=20)


def test_a_coffee_maker_whose_plate_stays_on_is_one_run():
    pieces = [(240.0, 880.0), (1800.0, 55.0)]
    runs = reported(boat(COFFEE, KETTLE, HOB), drawn((600, pieces), until_s=6000))
    assert names(runs) == ["Coffee maker"]
    assert runs[0].end_s - runs[0].start_s == pytest.approx(2040, abs=15)


def test_a_microwave_at_half_power_pulses():
    pieces = [*[(15.0, 1150.0), (15.0, 50.0)] * 16]
    runs = reported(boat(MICROWAVE, KETTLE, TOASTER), drawn((600, pieces)))
    assert set(names(runs)) == {"Microwave"}
    # A meter that looks every two seconds sees fifteen as fourteen or sixteen.
    assert sum(run.energy_wh for run in runs) == pytest.approx(80.0, rel=0.07)


def test_runs_that_overlap_are_told_apart():
    runs = reported(
        boat(KETTLE, TOASTER, OVEN),
        drawn((600, BAKING), (900, [(150.0, 1960.0)]), (960, [(120.0, 840.0)])),
    )
    assert sorted(names(runs)) == ["Kettle", "Oven", "Toaster"]
    by_name = {run.appliance: run for run in runs}
    assert by_name["Kettle"].energy_wh == pytest.approx(81.7, rel=0.04)
    assert by_name["Toaster"].energy_wh == pytest.approx(28.0, rel=0.06)


def test_two_that_start_in_the_same_moment_are_told_apart():
    runs = reported(
        boat(KETTLE, TOASTER),
        drawn((600, [(150.0, 1960.0)]), (600, [(100.0, 840.0)])),
    )
    assert sorted(names(runs)) == ["Kettle", "Toaster"]


def test_shape_and_length_tell_a_toaster_from_an_oven_of_nearly_its_power():
    oven = OVEN.__class__("Oven", OVEN.kind, 900)
    short = reported(boat(TOASTER, oven), drawn((600, [(120.0, 860.0)])))
    long = reported(
        boat(TOASTER, oven),
        drawn(
            (600, [(600.0, 880.0), *[(90.0, 30.0), (60.0, 880.0)] * 6]), until_s=5000
        ),
    )
    assert names(short) == ["Toaster"]
    assert names(long) == ["Oven"]


def test_a_bath_that_tapers_and_then_pulses_at_part_of_its_power_is_one_run():
    taper = [(10.0, 1000.0 - 85.0 * n) for n in range(1, 11)]
    pulses = [(30.0, 12.0), (8.0, 640.0)] * 60
    samples = drawn((600, [(1200.0, 1000.0), *taper, *pulses]), until_s=6000)
    runs = reported(boat(BATH, HOB, COFFEE, KETTLE), samples)
    assert names(runs) == ["Water bath"]
    assert runs[0].end_s - runs[0].start_s == pytest.approx(3580, abs=60)


def test_a_rice_cooker_that_keeps_warm_in_small_pulses_is_one_run():
    pulses = [(50.0, 2.0), (12.0, 120.0)] * 25
    runs = reported(boat(RICE, HOB, KETTLE), drawn((600, [(1200.0, 500.0), *pulses])))
    assert names(runs) == ["Rice cooker"]
    assert runs[0].end_s - runs[0].start_s == pytest.approx(2750, abs=90)


def test_a_rice_cooker_that_keeps_warm_for_two_minutes_in_four_is_one_run():
    pulses = [(110.0, 0.0), (130.0, 43.0)] * 8
    samples = drawn((600, [(1200.0, 500.0), *pulses]), until_s=6000)
    runs = reported(boat(RICE, HOB, KETTLE), samples)
    assert names(runs) == ["Rice cooker"]
    assert runs[0].end_s - runs[0].start_s > 3000


def test_a_slow_cooker_left_on_for_hours_is_reported():
    slow = appliance("Slow cooker", catalogue.SLOW_COOKER, 190)
    samples = drawn((3600, [(12000.0, 184.0)]), until_s=20000)
    runs = reported(boat(slow, HOB, KETTLE), samples)
    assert names(runs) == ["Slow cooker"]
    assert runs[0].energy_wh == pytest.approx(613.0, rel=0.03)


def test_a_hob_pulsing_beside_a_long_cooker_does_not_take_its_name():
    cooker = appliance("Pressure cooker", catalogue.PRESSURE_COOKER, 700)
    boiling = [(1500.0, 745.0), *[(55.0, 3.0), (9.0, 745.0)] * 20]
    simmer = [(120.0, 1100.0), *[(2.0, 8.0), (2.0, 545.0)] * 200]
    samples = drawn((600, boiling), (1200, simmer), until_s=5400)
    runs = reported(boat(cooker, HOB, KETTLE), samples)
    assert sorted(set(names(runs))) == ["Hob", "Pressure cooker"]
    cooking = [run for run in runs if run.appliance == "Pressure cooker"]
    assert cooking[0].start_s == pytest.approx(600, abs=10)


def test_an_oven_that_holds_its_heat_with_one_element_of_two_is_one_run():
    baking = [(600.0, 1480.0), *[(110.0, 40.0), (90.0, 780.0)] * 9]
    runs = reported(boat(OVEN, HOB, COFFEE, KETTLE), drawn((600, baking), until_s=6000))
    assert names(runs) == ["Oven"]
    assert runs[0].end_s - runs[0].start_s == pytest.approx(2400, abs=60)


def test_a_kettle_that_keeps_its_water_hot_is_one_run():
    keeping = [(210.0, 1960.0), *[(75.0, 2.0), (8.0, 1960.0)] * 10]
    runs = reported(boat(KETTLE, HOB, TOASTER), drawn((600, keeping), until_s=4000))
    assert names(runs) == ["Kettle"]
    assert runs[0].end_s - runs[0].start_s == pytest.approx(1040, abs=30)


def test_a_plate_that_is_regulated_from_the_start_is_a_hob():
    hotplate = appliance("Hotplate", catalogue.ELECTRIC_HOB, 1200)
    simmer = [(20.0, 1190.0), (20.0, 0.0)] * 40
    runs = reported(boat(hotplate, KETTLE, TOASTER), drawn((600, simmer), until_s=4000))
    assert names(runs) == ["Hotplate"]
    assert runs[0].end_s - runs[0].start_s == pytest.approx(1580, abs=60)


def test_a_heater_whose_thermostat_comes_back_is_one_run():
    tank = [(2400.0, 1180.0), *[(900.0, 1.0), (240.0, 1180.0)] * 3]
    runs = reported(boat(HEATER, HOB, KETTLE), drawn((600, tank), until_s=9000))
    assert set(names(runs)) == {"Water heater"}
    assert sum(run.energy_wh for run in runs) == pytest.approx(1022.7, rel=0.02)


def test_an_inverter_microwave_at_part_power_is_a_microwave():
    reheating = [(180.0, 640.0)]
    runs = reported(boat(MICROWAVE, TOASTER, KETTLE), drawn((600, reheating)))
    assert set(names(runs)) <= {"Microwave"}


KNEADING = [(6.0, 110.0), (5.0, 2.0)] * 110
BREAD = [
    *KNEADING,
    *[(4.0, 590.0), (150.0, 3.0)] * 20,
    (600.0, 590.0),
    *[(40.0, 3.0), (60.0, 590.0)] * 20,
]


def test_a_bread_maker_kneads_proves_and_bakes_in_one_run():
    runs = reported(
        boat(BREAD_MAKER, COFFEE, HOB), drawn((600, BREAD), until_s=9000, noise_w=1.0)
    )
    assert names(runs) == ["Bread maker"]
    assert runs[0].end_s - runs[0].start_s == pytest.approx(6890, abs=200)


def test_a_water_pump_whose_strokes_look_like_kneading_bakes_no_bread():
    pump = [(14.0, 60.0), (25.0, 0.0)] * 60
    runs = reported(
        boat(BREAD_MAKER, HOB), drawn((600, pump), until_s=6000, noise_w=1.0)
    )
    assert names(runs) == []


def test_a_tool_in_bursts_that_nobody_named_is_no_appliance():
    rng = random.Random(5)
    bursts = [
        piece
        for _ in range(40)
        for piece in ((rng.uniform(8, 24), 480.0), (rng.uniform(6, 22), 0.0))
    ]
    samples = drawn((1800, bursts), until_s=6000)
    segments = settled(Inference(boat(BREAD_MAKER, OVEN, KETTLE)), samples)
    assert names(runs_of(segments)) == []
    unnamed_ws = sum(s.unnamed_w * (s.end_s - s.start_s) for s in segments)
    assert unnamed_ws == pytest.approx(
        sum(seconds * watts for seconds, watts in bursts), rel=0.08
    )


def test_washing_up_with_the_pump_bakes_no_bread():
    rng = random.Random(3)
    washing: list[tuple[float, float]] = []
    for _ in range(6):
        for _ in range(rng.randint(3, 6)):
            washing += [(rng.uniform(8, 25), 82.0), (rng.uniform(20, 90), 0.0)]
        washing.append((rng.uniform(900, 1800), 0.0))
    samples = drawn(
        (600, washing), (5200, [(1500.0, 560.0)]), until_s=12000, noise_w=1.0
    )
    runs = reported(boat(BREAD_MAKER, HOB, KETTLE), samples)
    assert "Bread maker" not in names(runs)


def test_a_bath_that_pulses_faster_than_the_meter_sees_is_one_run():
    pieces = [
        (1000.0, 980.0),
        *[(3.0, 980.0), (1.0, 470.0)] * 90,
        *[(1.0, 480.0), (1.0, 980.0), (2.0, 14.0)] * 200,
    ]
    samples = drawn((600, pieces), until_s=6000, period_s=1.0)
    runs = reported(boat(BATH, HOB, KETTLE), samples)
    assert names(runs) == ["Water bath"]
    assert runs[0].end_s - runs[0].start_s == pytest.approx(2160, abs=60)


def test_a_bath_that_throttles_slides_down_to_what_holds_its_heat():
    # A proportional controller before a first-order load comes down exponentially
    # (K. J. Astrom and R. M. Murray, Feedback Systems, 2nd ed. 2021, section 6.3).
    slide = [(12.0, 75.0 + 925.0 * exp(-step / 2.3)) for step in range(14)]
    pieces = [(900.0, 1000.0), *slide, (5400.0, 75.0)]
    samples = drawn((600, pieces), until_s=9000, period_s=14.0, quantum_w=10.0)
    runs = reported(boat(BATH, HOB, MICROWAVE), samples)
    assert names(runs) == ["Water bath"]
    assert runs[0].end_s - runs[0].start_s == pytest.approx(6470, rel=0.03)


def test_one_small_plate_of_a_hob_with_four_simmers():
    # 7 kW in all; the smallest zone held low draws a fortieth of that. The zones' powers
    # are common practice, no source.
    hob = appliance("Hob", catalogue.INDUCTION_HOB, 7000)
    pieces = [(420.0, 1200.0), (900.0, 180.0)]
    runs = reported(boat(hob, OVEN, KETTLE), drawn((600, pieces)))
    assert names(runs) == ["Hob"]
    assert runs[0].energy_wh == pytest.approx(185.0, rel=0.03)
