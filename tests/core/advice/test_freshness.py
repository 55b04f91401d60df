"""Missing and stale readings: what is said, and when nothing can be told."""

from copy import replace

from custom_components.galley_loads.core.advice import Verdict, advise, request_dish
from custom_components.galley_loads.core.advice.freshness import check_freshness
from custom_components.galley_loads.core.bank.charge_state import (
    ChargeSource,
    ChargeState,
)
from custom_components.galley_loads.core.boat.boat import Sensor, Sensors
from custom_components.galley_loads.core.boat.sensor_role import Role, called_with_id
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.outlook.outlook import Outlook
from custom_components.galley_loads.core.phrase import phrase
from tests.core.outlook.outlook_rig import DAY_S, Life, cooking_boat, unix
from tests.said import all_said, said

from .sandpiper import AT_S, START_S, STEW, ask, sandpiper


def test_before_any_reading_it_cannot_tell():
    boat = cooking_boat()
    answer = advise(Outlook(boat).view(), request_dish(boat, STEW), START_S)
    assert answer.verdict is Verdict.UNKNOWN
    assert "no readings yet" in said(answer.reasons[0])


def test_stale_readings_are_said_to_be_stale():
    view = sandpiper(13.5)
    request = request_dish(view.boat, STEW)
    answer = advise(view, request, view.last.at_s + 3 * 3600.0)
    assert answer.verdict is Verdict.UNKNOWN
    assert "3 h old" in said(answer.reasons[0])
    # The pipeline may go on repeating what held; what counts is when a sensor spoke.
    silent = advise(
        view, request, view.last.at_s, newest_reading_s=view.last.at_s - 7200.0
    )
    assert silent.verdict is Verdict.UNKNOWN
    assert silent.start_s is None


def test_a_missing_gauge_reading_is_named():
    view = sandpiper(13.5)
    gauge = called_with_id(Role.SOC, "sensor.bank_soc")
    lost = replace(
        view,
        charge=ChargeState(ChargeSource.UNKNOWN),
        last=replace(view.last, soc=None),
    )
    answer = advise(
        lost,
        request_dish(view.boat, STEW),
        view.last.at_s,
        said=(phrase("silent.silent", sensor=gauge, age_s=25 * 3600.0),),
    )
    assert answer.verdict is Verdict.UNKNOWN
    assert said(answer.reasons[0]) == (
        "The battery gauge (sensor.bank_soc) does not tell the state of charge now."
    )
    assert said(answer.reasons[1]).endswith("silent for 25 h.")


def test_a_missing_load_is_named():
    view = sandpiper(13.5)
    lost = replace(view, last=replace(view.last, load_w=None, battery_w=None))
    answer = ask(lost, STEW)
    assert answer.verdict is Verdict.UNKNOWN
    load = view.boat.sensors.ac_load_power
    assert said(answer.reasons[0]) == (
        f"The AC load meter ({load.entity_id}) does not tell the boat's load now."
    )


def test_without_its_load_meter_a_boat_with_a_bank_meter_still_gets_an_answer():
    # One sensor missing must not take everything away.
    view = sandpiper(13.5)
    lost = replace(view, last=replace(view.last, load_w=None))
    assert ask(lost, STEW).verdict is not Verdict.UNKNOWN


def test_a_missing_sun_is_said_and_after_a_day_it_is_too_much():
    view = sandpiper(13.5)
    lost = replace(view, last=replace(view.last, solar_w=None))
    answer = ask(lost, STEW)
    assert answer.verdict is not Verdict.UNKNOWN
    assert any(
        "the array's past stands in" in reason for reason in all_said(answer.reasons)
    )
    blind_days = tuple(replace(d, ratio=(-1,) * 96) for d in view.sky.days[-3:])
    blind = replace(
        lost, sky=replace(view.sky, days=(*view.sky.days[:-3], *blind_days))
    )
    answer = ask(blind, STEW)
    assert answer.verdict is Verdict.UNKNOWN
    assert "sensor.solar" in said(answer.reasons[0])


def test_a_boat_without_a_gauge_and_without_a_voltage_cannot_start_counting():
    sensors = Sensors(
        ac_load_power=Sensor("sensor.load"), battery_power=Sensor("sensor.bank")
    )
    boat = cooking_boat(sensors=sensors)
    outlook = Outlook(boat)
    Life(
        boat, gauge=False, hide=lambda at_s, sample: replace(sample, voltage_v=None)
    ).live(outlook, START_S, 1)
    answer = advise(outlook.view(), request_dish(boat, STEW), START_S + DAY_S)
    assert answer.verdict is Verdict.UNKNOWN
    assert "no state-of-charge sensor" in said(answer.reasons[0])


def test_a_counting_boat_that_has_no_voltage_yet_says_so():
    sensors = Sensors(
        ac_load_power=Sensor("sensor.load"),
        battery_current=Sensor("sensor.amps"),
        battery_voltage=Sensor("sensor.volts"),
    )
    outlook = Outlook(cooking_boat(sensors=sensors, solar=None))
    outlook.observe(LoadSample(AT_S, 50.0, battery_a=-4.0))
    view = outlook.view()
    assert view.charge.source is ChargeSource.UNKNOWN
    (reason,) = check_freshness(view, AT_S).missing
    assert said(reason) == (
        "The state of charge is counted from the battery's voltage on, and "
        "the battery's voltage meter (sensor.volts) has told none yet."
    )


def test_a_dark_array_in_the_polar_night_is_not_missed():
    outlook = Outlook(cooking_boat(latitude=78.0, longitude=15.0))
    start_s = unix("2026-12-10T00:00:00")
    for step in range(40):
        outlook.observe(
            LoadSample(start_s + 900.0 * step, 50.0, None, None, -60.0, soc=80.0)
        )
    fresh = check_freshness(outlook.view(), start_s + 39 * 900.0)
    assert fresh.missing == ()
    (note,) = fresh.notes
    (meter,) = outlook.boat.sensors.solar_power
    assert said(note) == (
        f"The solar meter ({meter.entity_id}) does not tell the sun's power now; "
        "the array's past stands in."
    )


def test_of_several_solar_meters_all_are_named():
    sensors = Sensors(
        solar_power=(Sensor("sensor.port"), Sensor("sensor.starboard")),
        battery_power=Sensor("sensor.bank"),
        battery_soc=Sensor("sensor.soc"),
    )
    outlook = Outlook(cooking_boat(sensors=sensors))
    outlook.observe(LoadSample(AT_S, 50.0, None, None, -60.0, soc=80.0))
    (note,) = check_freshness(outlook.view(), AT_S).notes
    assert said(note).startswith(
        "The solar meters (sensor.port, sensor.starboard) do not all"
    )
