"""Timers that start at temperature."""

from datetime import time

import pytest

from custom_components.galley_loads.core.boat.quiet_hours import QuietHours
from custom_components.galley_loads.core.occasions.occurrence import OccurrenceKind
from custom_components.galley_loads.core.phrase import PhrasedError
from tests.core.occasions.alert_rigs import (
    HEATING,
    HOLDING,
    HOUR,
    MINUTE,
    Watch,
    clears,
    says,
)
from tests.core.rigs import NOON_S
from tests.said import refused


def test_a_timer_starts_at_temperature_and_says_when_it_is_over() -> None:
    watch = Watch(quiet_hours=QuietHours(time(11), time(18)))
    watch.alerts.timers.set("Bath", 60, watch.at_s)
    watch.on["Bath"] = (1000, HEATING)
    watch.pass_time(20 * MINUTE)
    hot_s = watch.at_s
    watch.on["Bath"] = (100, HOLDING)
    assert not says(watch.pass_time(59 * MINUTE), OccurrenceKind.TIMER_OVER)
    (say,) = says(watch.pass_time(3 * MINUTE), OccurrenceKind.TIMER_OVER)
    assert say.title == "Bath: time is up"
    timer = watch.alerts.timers.get("Bath")
    assert timer is not None
    assert timer.ended_s - hot_s == pytest.approx(60 * MINUTE, abs=15)
    assert clears(watch.pass_time(90 * MINUTE)).count("timer_over:Bath") == 1


def test_a_timer_survives_a_restart() -> None:
    watch = Watch()
    watch.alerts.timers.set("Bath", 30, watch.at_s)
    watch.on["Bath"] = (100, HOLDING)
    watch.pass_time(20 * MINUTE)
    watch.restart()
    assert says(watch.pass_time(12 * MINUTE), OccurrenceKind.TIMER_OVER)


def test_a_bath_that_goes_off_early_is_reported() -> None:
    watch = Watch()
    watch.alerts.timers.set("Bath", 60, watch.at_s)
    watch.on["Bath"] = (100, HOLDING)
    watch.pass_time(42 * MINUTE)
    watch.on.clear()
    (say,) = says(watch.pass_time(10 * MINUTE), OccurrenceKind.TIMER_OVER)
    assert say.title == "Bath went off early"
    assert say.message == "It has been at temperature for 42 of 60 min."


def test_lost_readings_do_not_stop_a_timer() -> None:
    watch = Watch()
    watch.alerts.timers.set("Bath", 60, watch.at_s)
    watch.on["Bath"] = (100, HOLDING)
    watch.pass_time(30 * MINUTE)
    watch.on.clear()
    watch.measured = False
    said = says(watch.pass_time(40 * MINUTE), OccurrenceKind.TIMER_OVER)
    assert [say.title for say in said] == ["Bath: time is up"]


def test_a_timer_that_never_gets_hot_is_dropped() -> None:
    watch = Watch()
    watch.alerts.timers.set("Bath", 60, watch.at_s)
    watch.pass_time(11 * HOUR, step_s=60)
    assert watch.alerts.timers.get("Bath") is not None
    watch.pass_time(2 * HOUR, step_s=60)
    assert watch.alerts.timers.get("Bath") is None


def test_a_timer_can_be_cancelled() -> None:
    watch = Watch()
    watch.alerts.timers.set("Oven", 30, watch.at_s)
    assert watch.alerts.timers.cancel("Oven")
    assert not watch.alerts.timers.cancel("Oven")


@pytest.mark.parametrize(
    ("name", "minutes", "complaint"),
    [
        ("Hob", 30, "must hold a temperature"),
        ("Sauna", 30, "must hold a temperature"),
        ("Bath", 0, "must be above 0"),
        ("Bath", -5, "must be above 0"),
        ("Bath", 1e9, "at most"),
        ("Bath", float("nan"), "must be above 0"),
    ],
)
def test_a_timer_that_makes_no_sense_is_refused(name, minutes, complaint) -> None:
    with refused(PhrasedError, match=complaint):
        Watch().alerts.timers.set(name, minutes, NOON_S)
