"""What is shown at this moment is no more than what the boat draws."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from random import Random

import pytest

from custom_components.galley_loads.core.boat.boat import Appliance, Boat, Sensor
from custom_components.galley_loads.core.engine import Engine
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.live.live_view import LiveView
from custom_components.galley_loads.core.metering.reading import Reading
from tests.core.boats import HOB, KETTLE, small_boat

AT = 1_778_000_000.0
LOAD, PLUG = "sensor.inverter_output", "sensor.kettle_plug"
BATH = Appliance("Bath", catalogue.WATER_BATH, 900)
METERED_KETTLE = replace(KETTLE, power_sensor=Sensor(PLUG))

type Power = Callable[[int], float]


def _bath_w(at_s: int) -> float:
    """Heating for half an hour, then pulses of 13 s in 47."""
    holding = at_s >= 2700 and (at_s - 2700) % 47 >= 13
    return 886.0 if at_s >= 900 and not holding else 0.0


def _hob_w(at_s: int) -> float:
    """Two searing rounds that overlap the bath's pulses, with a lower level after each."""
    return 1750.0 if 3000 <= at_s < 3300 else 547.0 if 3300 <= at_s < 4800 else 0.0


def _looks(
    boat: Boat, load_w: Power, *, from_s: int, until_s: int, **meters: Power
) -> Iterator[tuple[int, LiveView]]:
    """Yield what is shown at every third second."""
    engine, noise = Engine(boat), Random(1)
    for at_s in range(0, until_s, 3):
        for entity_id, power_w in meters.items():
            state = f"{power_w(at_s):.0f}"
            engine.feed(Reading(f"sensor.{entity_id}", state, AT + at_s))
        total_w = load_w(at_s) + 70 + noise.gauss(0, 3)
        engine.feed(Reading(LOAD, f"{total_w:.0f}", AT + at_s))
        if at_s >= from_s:
            view = engine.live()
            assert view is not None
            yield at_s, view


def test_what_is_shown_adds_up_to_the_load_while_a_bath_pulses_beside_a_hob() -> None:
    """Over its cycles: the bath is shown at its mean, while the load shows its pulses."""
    shown_w = load_w = off_w = 0.0
    looks = 0
    for at_s, view in _looks(
        small_boat(appliances=(HOB, BATH)),
        lambda at_s: _bath_w(at_s) + _hob_w(at_s),
        from_s=2900,
        until_s=4780,
    ):
        assert view.load_w is not None
        parts_w = (
            *(now.power_w for now in view.appliances),
            view.unassigned_w or 0.0,
            view.background_w or 0.0,
        )
        assert min(parts_w) >= 0.0
        shown_w += sum(parts_w)
        load_w += view.load_w
        off_w += abs(view.appliance("Hob").power_w - _hob_w(at_s))
        looks += 1
    assert shown_w == pytest.approx(load_w, rel=0.02)
    # The bath is what goes off: the hob's draw stays within 5 % of its larger level.
    assert off_w / looks < 0.05 * 1750


def test_what_does_not_pulse_adds_up_to_the_load_at_every_moment() -> None:
    for _, view in _looks(
        small_boat(appliances=(HOB, BATH)),
        _hob_w,
        from_s=2900,
        until_s=4900,
    ):
        load_w = view.load_w
        assert load_w is not None
        assert sum(now.power_w for now in view.appliances) <= load_w + 1e-6
        parts_w = (
            *(now.power_w for now in view.appliances),
            view.unassigned_w or 0.0,
            view.background_w or 0.0,
        )
        assert sum(parts_w) == pytest.approx(load_w)
        assert (view.galley_w or 0.0) <= load_w + 1e-6


def test_a_plug_that_is_ahead_of_the_boats_meter_is_shown_as_it_is() -> None:
    """The boat's meter follows seconds later; until then the load is what the plug says."""
    for at_s, view in _looks(
        small_boat(appliances=(HOB, METERED_KETTLE)),
        lambda at_s: 2000.0 if at_s >= 612 else 0.0,
        from_s=603,
        until_s=660,
        kettle_plug=lambda at_s: 2000.0 if at_s >= 600 else 0.0,
    ):
        assert view.appliance("Kettle").power_w == 2000
        assert view.load_w == pytest.approx(2000 if at_s < 612 else 2070, abs=12)


def test_the_load_falls_the_moment_its_meter_and_the_plug_say_so() -> None:
    def kettle_w(at_s: int) -> float:
        return 2000.0 if 600 <= at_s < 750 else 0.0

    for at_s, view in _looks(
        small_boat(appliances=(HOB, METERED_KETTLE)),
        kettle_w,
        from_s=744,
        until_s=756,
        kettle_plug=kettle_w,
    ):
        assert view.appliance("Kettle").power_w == kettle_w(at_s)
        assert view.load_w == pytest.approx(kettle_w(at_s) + 70, abs=12)
