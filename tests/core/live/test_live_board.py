"""What a crew sees while it cooks: names, watts, pauses and pulses."""

from collections.abc import Callable, Iterator
from random import Random

import pytest

from custom_components.galley_loads.core.boat.boat import Appliance, Boat
from custom_components.galley_loads.core.engine import Engine
from custom_components.galley_loads.core.inference.model.activity import Phase
from custom_components.galley_loads.core.inference.model.possibility import (
    Possibility,
    PossibleLoad,
)
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.live.live_board import LiveBoard, Shown
from custom_components.galley_loads.core.live.live_view import ApplianceState, LiveView
from custom_components.galley_loads.core.metering.reading import Reading
from tests.core.boats import HOB, KETTLE, small_boat

AT = 1_778_000_000.0
LOAD = "sensor.inverter_output"
REST_W = 70.0
BATH = Appliance("Bath", catalogue.WATER_BATH, 900)

type Power = Callable[[int], float]


def looks(
    boat: Boat, load_w: Power, *, from_s: int, until_s: int
) -> Iterator[tuple[int, LiveView]]:
    """Yield what is shown after every reading, one each two seconds (invented)."""
    engine, noise = Engine(boat), Random(1)
    for at_s in range(0, until_s, 2):
        total_w = load_w(at_s) + REST_W + noise.gauss(0, 2)
        engine.feed(Reading(LOAD, f"{total_w:.0f}", AT + at_s))
        view = engine.live()
        if at_s >= from_s:
            assert view is not None
            yield at_s, view


def kettle_w(at_s: int) -> float:
    return 1990.0 if 600 <= at_s < 780 else 0.0


def bath_w(at_s: int) -> float:
    """Heating for half an hour, then pulses of 13 s in 47: 245 W on average."""
    holds = at_s >= 2700 and (at_s - 2700) % 47 >= 13
    return 886.0 if at_s >= 900 and not holds else 0.0


def lifted_w(at_s: int) -> float:
    """A hob whose pan is lifted for 12 s every few minutes."""
    lifted = at_s in range(900, 912) or at_s in range(1100, 1112)
    return 1200.0 if 600 <= at_s < 1400 and not lifted else 0.0


def test_a_kettle_just_on_is_never_the_fridge() -> None:
    boat = small_boat(appliances=(HOB, KETTLE))
    for at_s, view in looks(boat, kettle_w, from_s=590, until_s=780):
        assert (view.background_w or 0.0) < REST_W + 30.0, at_s
        if 600 <= at_s < 780:
            known_w = view.appliance("Kettle").power_w + (view.unassigned_w or 0.0)
            known_w += view.appliance("Hob").power_w
            assert known_w > 1900.0, at_s


def test_a_kettle_has_its_name_within_seconds_and_loses_it_within_seconds() -> None:
    boat = small_boat(appliances=(HOB, KETTLE))
    named = [
        at_s
        for at_s, view in looks(boat, kettle_w, from_s=500, until_s=900)
        if view.appliance("Kettle").running
    ]
    assert 600 < named[0] <= 620
    assert 780 <= named[-1] + 2 <= 800
    assert named == list(range(named[0], named[-1] + 1, 2))


def test_what_is_being_recognised_has_candidates() -> None:
    boat = small_boat(appliances=(HOB, KETTLE))
    first = next(view for _, view in looks(boat, kettle_w, from_s=600, until_s=610))
    assert (first.unassigned_w or 0.0) > 1900.0
    names = [candidate.appliance for candidate in first.candidates]
    assert "Kettle" in names
    chances = [candidate.chance for candidate in first.candidates]
    assert chances == sorted(chances, reverse=True) and chances[0] <= 1.0


def test_a_bath_that_holds_is_shown_at_its_mean_and_its_pulses_nowhere_else() -> None:
    boat = small_boat(appliances=(HOB, BATH))
    shown_w: list[float] = []
    for _, view in looks(boat, bath_w, from_s=2900, until_s=3800):
        bath = view.appliance("Bath")
        assert bath.running and bath.is_mean
        assert bath.state is ApplianceState.HOLDING
        rest_w = (view.background_w or 0.0) + (view.standby_w or 0.0)
        assert rest_w == pytest.approx(REST_W, abs=30.0)
        assert (view.unassigned_w or 0.0) < 30.0
        shown_w.append(bath.power_w)
    assert min(shown_w) > 200.0 and max(shown_w) < 290.0
    assert sum(shown_w) / len(shown_w) == pytest.approx(245.0, rel=0.03)


def test_a_lifted_pan_pauses_the_run_and_does_not_end_it() -> None:
    boat = small_boat(appliances=(HOB, KETTLE))
    starts: list[float | None] = []
    paused = False
    for at_s, view in looks(boat, lifted_w, from_s=640, until_s=1390):
        hob = view.appliance("Hob")
        assert hob.running, at_s
        starts.append(hob.run_start_s)
        paused = paused or hob.paused
    assert {*starts} == {starts[0]}
    assert paused


def test_the_watts_that_were_shown_add_up_to_what_the_run_took() -> None:
    boat = small_boat(appliances=(HOB, KETTLE))
    view = [view for _, view in looks(boat, lifted_w, from_s=1380, until_s=1400)][-1]
    true_wh = sum(lifted_w(at_s) for at_s in range(600, 1400)) / 3600.0
    assert view.appliance("Hob").run_energy_wh == pytest.approx(true_wh, rel=0.02)


# By possibilities made up, as the board is given them.


def load(name: str | None, start_s: float, power_w: float = 1500.0) -> PossibleLoad:
    return PossibleLoad(name, start_s, power_w, Phase.HEATING, False, 1.0, 1.0)


def account(chance: float, *loads: PossibleLoad) -> Possibility:
    total_w = REST_W + sum(each.power_w for each in loads)
    return Possibility(chance, REST_W, total_w, loads)


def see(board: LiveBoard, at_s: float, *accounts: Possibility) -> Shown:
    return board.look(at_s, accounts[0].total_w, accounts)


def names(shown: Shown) -> list[str]:
    return [activity.appliance for activity in shown.activities]


def test_a_change_of_mind_replaces_a_name_in_one_step() -> None:
    board = LiveBoard()
    see(board, 0.0, account(1.0))
    kettle, microwave = load("Kettle", 2.0), load("Microwave", 2.0)
    for at_s in range(10, 40, 2):
        shown = see(board, at_s, account(0.9, kettle), account(0.1, microwave))
    assert names(shown) == ["Kettle"] and not shown.corrected
    seen: list[list[str]] = []
    corrections: list[dict[str, str]] = []
    for at_s in range(40, 120, 2):
        shown = see(board, at_s, account(0.9, microwave), account(0.1, kettle))
        seen.append(names(shown))
        corrections += [dict(shown.corrected)] if shown.corrected else []
    assert seen[0] == ["Kettle"] and seen[-1] == ["Microwave"]
    assert all(len(each) == 1 for each in seen)
    assert corrections == [{"Microwave": "Kettle"}]


def test_one_fickle_look_changes_no_name() -> None:
    board = LiveBoard()
    see(board, 0.0, account(1.0))
    hob, oven = load("Hob", 2.0), load("Oven", 2.0)
    for at_s in range(10, 100, 2):
        shown = see(board, at_s, account(0.8, hob), account(0.2, oven))
    shown = see(board, 102.0, account(0.9, oven), account(0.1, hob))
    assert names(shown) == ["Hob"]
    shown = see(board, 104.0, account(0.8, hob), account(0.2, oven))
    assert names(shown) == ["Hob"]


def test_what_the_fridge_is_not_known_for_is_being_recognised() -> None:
    board = LiveBoard()
    see(board, 0.0, account(1.0))
    stepped = Possibility(1.0, REST_W + 150.0, REST_W + 150.0, ())
    assert board.look(2.0, REST_W + 150.0, [stepped]).unnamed_w == pytest.approx(150.0)
    own = LiveBoard()
    see(own, 0.0, account(1.0))
    shown = own.look(2.0, REST_W + 150.0, [stepped], own_step=lambda w: w > 100.0)
    assert shown.unnamed_w == 0.0


def test_a_board_taken_up_again_shows_what_it_would_have_shown() -> None:
    board = LiveBoard()
    see(board, 0.0, account(1.0))
    kettle = load("Kettle", 2.0)
    for at_s in range(10, 40, 2):
        see(board, at_s, account(0.9, kettle), account(0.1, load(None, 2.0)))
    again = LiveBoard()
    again.restore(board.snapshot())
    after = account(0.7, load(None, 2.0)), account(0.3, kettle)
    for at_s in range(40, 80, 2):
        assert see(again, at_s, *after) == see(board, at_s, *after)


def test_a_load_that_fell_a_moment_ago_is_no_longer_shown_in_full() -> None:
    """The hypotheses have not seen it yet: what has no name goes first."""
    board = LiveBoard()
    kettle, toaster, unnamed = (
        load("Kettle", 2.0),
        load("Toaster", 2.0),
        load(None, 2.0),
    )
    for at_s in range(10, 60, 2):
        shown = see(board, at_s, account(1.0, kettle, toaster, unnamed))
    assert set(names(shown)) == {"Kettle", "Toaster"}
    each_w = kettle.power_w
    full = account(1.0, kettle, toaster, unnamed)
    for gone_w in (each_w, 2.0 * each_w, 2.5 * each_w):
        shown = board.look(62.0, full.total_w - gone_w, [full])
        draws_w = sum(activity.power_w for activity in shown.activities)
        assert draws_w + shown.unnamed_w == pytest.approx(3.0 * each_w - gone_w)
        assert shown.unnamed_w == pytest.approx(0.0)
