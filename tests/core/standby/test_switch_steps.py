"""An appliance that is switched at the wall: the steps before and after its runs."""

from random import Random

import pytest

from custom_components.galley_loads.core.standby import StandbyLearner, StandbySource

from .resting_day import HOB, Day, boat_with


def cook_days(day: Day, days: int, standby_w: float, fridge_w: float = 62.0) -> None:
    """Switch the hob on at the wall, cook, and switch it off; a fridge cycles on its own."""
    fridge = Random(11)
    fridge_on, change_s = False, day.at_s

    def with_fridge(
        seconds: float, load_w: float, running: tuple[str, ...] = ()
    ) -> None:
        nonlocal fridge_on, change_s
        until_s = day.at_s + seconds
        while day.at_s < until_s:
            if day.at_s >= change_s:
                fridge_on = not fridge_on
                change_s = day.at_s + fridge.uniform(500, 1500)
            span_s = min(until_s, change_s) - day.at_s
            day.rest(span_s, load_w + (fridge_w if fridge_on else 0.0), running=running)

    for _ in range(days):
        for _ in range(2):
            with_fridge(4 * 3600, 90)
            with_fridge(150, 90 + standby_w)
            with_fridge(1500, 90 + standby_w + 1300, running=("Hob",))
            with_fridge(400, 90 + standby_w)
        with_fridge(6 * 3600, 90)


def test_steps_at_switching_on_and_off_tell_a_hobs_standby() -> None:
    book = StandbyLearner(boat_with(HOB))
    day = Day(book)
    cook_days(day, days=5, standby_w=21)
    figure = book.figure("Hob")
    assert figure is not None
    assert figure.source is StandbySource.SWITCHING
    assert figure.power_w == pytest.approx(21, abs=2)
    # Off at the wall since the last meal: nothing is drawn now.
    assert book.present_w("Hob", day.at_s, ()) == 0
    day.rest(300, 90 + 21)
    assert book.present_w("Hob", day.at_s, ()) == pytest.approx(21, abs=2)


def test_a_fridge_alone_is_never_taken_for_standby() -> None:
    book = StandbyLearner(boat_with(HOB))
    day = Day(book)
    cook_days(day, days=6, standby_w=0)
    assert book.figure("Hob") is None
