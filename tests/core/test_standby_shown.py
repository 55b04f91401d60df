"""The boat's standby: unknown where nothing is known, and the sum of its circuits'."""

from dataclasses import replace
import json
from random import Random

import pytest

from custom_components.galley_loads.core.boat.boat import Appliance, Boat, Circuit
from custom_components.galley_loads.core.engine import Engine
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.live.live_view import LiveView
from custom_components.galley_loads.core.metering.reading import Reading

from .boats import small_boat

AT = 1_778_000_000.0
LOAD, RELAY = "sensor.inverter_output", "switch.galley_1"
GALLEY_1 = Circuit("Galley 1", 15, 120, relay=RELAY)
HOB = Appliance("Hob", catalogue.INDUCTION_HOB, 1800, circuit="Galley 1")
OVEN = Appliance("Oven", catalogue.OVEN, 1500, circuit="Galley 1")
BASE_W = 80


def _boat(*appliances: Appliance) -> Boat:
    return replace(small_boat(appliances=appliances), circuits=(GALLEY_1,))


def _lived(boat: Boat, *, standby_w: float) -> Engine:
    """Return an engine after some hours in which the relay was switched three times."""
    engine, noise = Engine(boat), Random(3)
    closed = None
    for at_s in range(0, 4 * 3600, 3):
        now = at_s // 1800 % 2 == 0 or at_s >= 3 * 3600
        if now is not closed:
            closed = now
            engine.feed(Reading(RELAY, "on" if closed else "off", AT + at_s))
        load_w = BASE_W + (standby_w if closed else 0.0) + noise.gauss(0, 0.6)
        engine.feed(Reading(LOAD, f"{load_w:.0f}", AT + at_s))
    return engine


def _seen(engine: Engine) -> LiveView:
    view = engine.live()
    assert view is not None
    return view


def test_a_boat_whose_appliances_are_all_unknown_shows_no_standby() -> None:
    engine = Engine(_boat(HOB, OVEN))
    for at_s in range(0, 1800, 3):
        engine.feed(Reading(LOAD, str(BASE_W), AT + at_s))
    view = _seen(engine)
    assert view.load_w == BASE_W
    assert view.standby_w is None
    assert view.standby_at_least
    assert view.background_w == pytest.approx(BASE_W)


def test_with_one_appliance_unknown_the_boats_standby_is_at_least_the_others() -> None:
    engine = Engine(_boat(replace(HOB, standby_power_w=20.0), OVEN))
    engine.feed(Reading(RELAY, "on", AT))
    for at_s in range(0, 1800, 3):
        engine.feed(Reading(LOAD, str(BASE_W), AT + at_s))
    view = _seen(engine)
    assert view.standby_w == pytest.approx(20.0)
    assert view.standby_at_least
    figure = engine.standby.circuit_figure("Galley 1")
    assert figure is not None
    assert figure.at_least


def test_what_two_appliances_draw_together_is_in_the_boats_standby() -> None:
    engine = _lived(_boat(HOB, OVEN), standby_w=30.0)
    view = _seen(engine)
    figure = engine.standby.circuit_figure("Galley 1")
    assert figure is not None
    assert figure.power_w == pytest.approx(30.0, abs=1.5)
    assert view.standby_w == pytest.approx(figure.power_w)
    assert not view.standby_at_least
    assert view.galley_w is not None
    assert view.galley_w + (view.background_w or 0.0) + (
        view.unassigned_w or 0.0
    ) == pytest.approx(view.load_w)


@pytest.mark.parametrize("stated_w", [12.0, 70.0])
def test_what_the_owner_states_never_exceeds_what_the_relay_has_shown(
    stated_w: float,
) -> None:
    boat = _boat(replace(HOB, standby_power_w=stated_w), OVEN)
    engine = _lived(boat, standby_w=30.0)
    standby, figure = engine.standby, engine.standby.circuit_figure("Galley 1")
    assert figure is not None
    assert figure.power_w == pytest.approx(30.0, abs=1.5)
    known_w = sum(standby.standby_w(a.name) or 0.0 for a in boat.appliances)
    assert known_w <= figure.power_w + 1e-9
    assert _seen(engine).standby_w == pytest.approx(figure.power_w)
    again = Engine.from_state(boat, json.loads(json.dumps(engine.snapshot())))
    assert again.live() == engine.live()
    assert again.standby.circuit_figure("Galley 1") == figure


@pytest.mark.parametrize(
    ("part", "odd"),
    [
        ("cells", {"cells": [["noon"]], "last": None}),
        ("runs", [[0.0, ["Hob", "noon"]]]),
        ("meals", {"pending": [], "marks": [[0.0, "much", True, None, 0.0, 0.0]]}),
        ("standby", None),
        ("assembler", 3),
        ("totals", {"of": "another form"}),
    ],
)
def test_a_stored_state_of_another_form_is_one_clear_error(
    part: str, odd: object
) -> None:
    boat = _boat(HOB, OVEN)
    state = Engine(boat).snapshot()
    with pytest.raises(ValueError, match="stored state: "):
        Engine.from_state(boat, {**state, part: odd})
