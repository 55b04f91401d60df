"""The simulated appliances obey published physics."""

from datetime import UTC, datetime, timedelta
import random

from astral import LocationInfo
from astral.sun import azimuth, elevation
from iapws import IAPWS97
import pytest
from scipy.integrate import solve_ivp

from demo.sandpiper import BOAT
from demo.simulator.hobs import InductionHob
from demo.simulator.ovens import Oven
from demo.simulator.pieces import duration_s, energy_wh
from demo.simulator.sun import clear_sky_w_m2, elevation_azimuth
from demo.simulator.supply import cell_voltage
from demo.simulator.task import Task
from demo.simulator.thermal import BATH_J_LITRE_K, Lump
from demo.simulator.water import Kettle, WaterBath


def test_a_kettle_takes_the_energy_that_the_water_standard_says() -> None:
    """IAPWS R7-97: enthalpy of a litre's kilogram from 15 degrees to boiling."""
    kettle = Kettle(
        power_w=2000, body_j_k=0, ua_w_k=0, steam_switch_s=0, water_c=15, ambient_c=20
    )
    run = kettle.pieces(random.Random(1), Task(litres=1.0))
    cold = IAPWS97(T=273.15 + 15, P=0.101325).h
    boiling = IAPWS97(T=273.15 + 100, x=0).h
    assert energy_wh(run) == pytest.approx((boiling - cold) / 3.6, rel=1e-3)


def test_a_kettle_that_loses_heat_takes_longer_than_one_that_does_not() -> None:
    tight = Kettle(2000, body_j_k=0, ua_w_k=0, steam_switch_s=0)
    leaky = Kettle(2000, body_j_k=300, ua_w_k=1.2, steam_switch_s=8)
    task = Task(litres=0.8)
    assert duration_s(leaky.pieces(random.Random(1), task)) > duration_s(
        tight.pieces(random.Random(1), task)
    )


@pytest.mark.parametrize(
    ("litres", "from_c", "to_c", "ambient_c", "ua_w_k", "seconds", "hold_w"),
    [
        (8, 20, 58, 20, 2.0, 1308.386, 76.0),
        (8, 20, 58, 20, 0.8, 1277.531, 30.4),
        (12, 20, 60, 25, 3.0, 2082.676, 105.0),
    ],
)
def test_a_bath_heats_as_its_closed_form_says(
    litres: float,
    from_c: float,
    to_c: float,
    ambient_c: float,
    ua_w_k: float,
    seconds: float,
    hold_w: float,
) -> None:
    """C dT/dt = P - UA (T - Ta) with 1000 W; the figures and scipy's own integration."""
    bath = Lump(from_c, litres * BATH_J_LITRE_K, ua_w_k, ambient_c)
    assert bath.seconds_to(to_c, 1000) == pytest.approx(seconds, abs=0.001)
    warm = bath.after(seconds, 1000)
    assert warm.holding_power_w() == pytest.approx(hold_w, rel=1e-4)
    solved = solve_ivp(
        lambda _, y: [(1000 - ua_w_k * (y[0] - ambient_c)) / bath.capacity_j_k],
        (0, seconds),
        [from_c],
        rtol=1e-9,
    )
    assert solved.y[0][-1] == pytest.approx(to_c, abs=1e-4)


def test_a_bath_that_is_switched_off_cools_as_its_closed_form_says() -> None:
    bath = Lump(58, 8 * BATH_J_LITRE_K, 2.0, 20)
    assert bath.after(3600, 0).celsius == pytest.approx(50.5725, abs=1e-3)
    assert bath.seconds_to(50.5725, 0) == pytest.approx(3600, rel=1e-4)


def test_a_bath_holds_its_temperature_with_what_it_loses() -> None:
    bath = WaterBath(
        power_w=1000, pump_w=0, litres=8, ua_w_k=2, band_k=0.5, period_s=10, start_c=20
    )
    run = bath.pieces(random.Random(2), Task(celsius=58, minutes=240))
    heat_s = run[0][0]
    assert heat_s < 1308.386 < heat_s + 60  # the taper takes over half a degree early
    after, at_s = [], 0.0
    for seconds, watts in run:
        if at_s > heat_s + 5400:  # food and taper are long past
            after.append((seconds, watts))
        at_s += seconds
    mean_w = energy_wh(after) * 3600 / duration_s(after)
    assert mean_w == pytest.approx(76.0, rel=0.02)


def test_an_oven_preheats_and_holds_as_its_duty_model_says() -> None:
    """1500 W, 5 W/K, 6 kJ/K to 180 degrees: 914.57 s, then 800 W to hold."""
    oven = Oven(1500, fan_w=0, capacity_j_k=6000, ua_w_k=5, hysteresis_k=5, food_w_k=0)
    assert oven.preheat_s(180) == pytest.approx(914.57, abs=0.01)
    run = oven.pieces(random.Random(0), Task(celsius=180, minutes=240))
    assert run[0][1] == 1500
    assert run[0][0] > 914.57  # the door was opened, so it goes on heating for a while
    late = run[len(run) // 2 :]
    late = late[: 2 * (len(late) // 2)]
    assert energy_wh(late) * 3600 / duration_s(late) == pytest.approx(800, rel=0.04)


def test_a_lump_that_never_gets_there_says_so() -> None:
    tank = Lump(20, 10_000, 5, 20)
    assert tank.seconds_to(200, 500) == float("inf")
    assert tank.seconds_to(20, 500) == 0
    assert Lump(20, 1000, 0, 20).seconds_to(30, 0) == float("inf")


@pytest.mark.parametrize("day", [20, 110, 172, 250, 330])
@pytest.mark.parametrize("hour", [9, 12.5, 15, 18])
def test_the_sun_stands_where_an_astronomy_library_puts_it(
    day: int, hour: float
) -> None:
    """Compared with astral's true position, Horta."""
    moment = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(days=day - 1, hours=hour)
    horta = LocationInfo(latitude=38.53, longitude=-28.62).observer
    high, bearing = elevation_azimuth(38.53, -28.62, moment.timestamp())
    assert high == pytest.approx(
        elevation(horta, moment, with_refraction=False), abs=0.6
    )
    if high > 0:
        assert bearing == pytest.approx(azimuth(horta, moment), abs=1.0)


@pytest.mark.parametrize(
    ("elevation_deg", "w_m2"), [(90, 880.0), (60, 758.083), (30, 425.0), (15, 205.525)]
)
def test_a_clear_sky_gives_what_was_measured_at_hamburg(
    elevation_deg: float, w_m2: float
) -> None:
    """Kasten and Czeplak, Solar Energy 24 (1980) 177."""
    assert clear_sky_w_m2(elevation_deg) == pytest.approx(w_m2, abs=0.001)
    assert clear_sky_w_m2(-5) == 0


@pytest.mark.parametrize(
    ("soc", "volts"), [(10, 3.19877), (50, 3.29904), (90, 3.34213)]
)
def test_a_cell_rests_at_its_published_voltage(soc: float, volts: float) -> None:
    """Sunil, Pattipati, Balasingam, IEEE Trans. Instrum. Meas. 2025."""
    assert cell_voltage(soc) == pytest.approx(volts, abs=2e-5)


def hob_of_the_demo() -> InductionHob:
    model = BOAT.appliance("Hob").model
    assert isinstance(model, InductionHob)
    return model


def test_the_demo_hob_draws_what_hobs_on_boats_draw() -> None:
    """1.5 to 2 A at 12 V on standby, some 1,350 W at full power and 860 W at a medium level.

    Common practice, no source.
    """
    hob = BOAT.appliance("Hob")
    assert 1.5 <= hob.standby_w / 12 <= 2
    assert hob.power_w == pytest.approx(1350, rel=0.05)
    levels = [hob.power_w * step / hob_of_the_demo().levels for step in range(1, 10)]
    assert min(abs(level - 860) for level in levels) < 0.5 * levels[0]


def test_a_bath_holds_at_about_a_tenth_of_its_power() -> None:
    """Common practice, no source."""
    appliance = BOAT.appliance("Water bath")
    run = appliance.model.pieces(random.Random(3), Task(celsius=58, minutes=180))
    late_s, late_wh, at_s = 0.0, 0.0, 0.0
    for seconds, watts in run:
        if at_s > 5400:
            late_s += seconds
            late_wh += seconds * watts / 3600
        at_s += seconds
    assert late_wh * 3600 / late_s / appliance.power_w == pytest.approx(0.1, abs=0.04)


def test_an_hour_of_a_small_bath_takes_a_dozen_amp_hours() -> None:
    """About 12 Ah of a 12 V bank for two (common practice, no source).

    Our assumption: four litres, filled warm from the tap.
    """
    bath = WaterBath(
        865, pump_w=20, litres=4, ua_w_k=1.2, band_k=1, period_s=20, start_c=38
    )
    run = bath.pieces(random.Random(1), Task(celsius=58, minutes=52))
    assert duration_s(run) == pytest.approx(3600, rel=0.05)
    amp_hours = BOAT.inverter.dc_w(energy_wh(run)) / 12.9
    assert amp_hours == pytest.approx(12, abs=3)


def test_a_dinner_from_one_pan_takes_some_twenty_amp_hours() -> None:
    """About 20 Ah of a 12 V bank (common practice, no source)."""
    dinners = [
        energy_wh(
            hob_of_the_demo().pieces(random.Random(seed), Task(way="fry", minutes=18))
        )
        for seed in range(30)
    ]
    mean_wh = sum(dinners) / len(dinners)
    assert mean_wh / BOAT.inverter.stated_efficiency / 12.9 == pytest.approx(
        20, rel=0.3
    )


def test_a_big_dinner_with_the_rest_aboard_takes_some_fifty_amp_hours() -> None:
    """About 50 Ah of a 12 V bank (common practice, no source): stew, side dish, tea."""
    rng = random.Random(5)
    tasks = (
        ("Hob", Task(way="stew", litres=1.0, minutes=18, level=0.33)),
        ("Hob", Task(way="fry", minutes=8)),
        ("Kettle", Task(litres=0.7)),
    )
    cooking_wh = sum(
        energy_wh(BOAT.appliance(name).model.pieces(rng, task)) for name, task in tasks
    )
    everything_else_wh = 50 * 1.2
    dc_wh = cooking_wh / BOAT.inverter.stated_efficiency + everything_else_wh
    assert dc_wh / 12.9 == pytest.approx(50, rel=0.3)
