"""A saved engine of which one value is of a wrong type is refused, wherever it stands."""

from collections.abc import Iterator
import copy
import json
from typing import Any

import pytest

from custom_components.galley_loads.core.engine import Engine
from custom_components.galley_loads.core.stateful import StateError

from . import simulated_day

type Place = tuple[str | int, ...]

LONG = 12
"""Of a longer list the items are alike: its first and its last stand for it."""


def saved(share: float) -> dict[str, Any]:
    """Return an engine's state in the middle of a simulated day, as a file gives it."""
    boat, readings, _ = simulated_day.history()
    engine = Engine(boat)
    for reading in readings[: int(share * len(readings))]:
        engine.feed(reading)
    state: dict[str, Any] = json.loads(json.dumps(engine.snapshot()))
    return state


def places(part: Any, way: Place = ()) -> Iterator[tuple[Place, Any]]:
    """Yield every value of a state with the way to it, parts before what is in them."""
    if way:
        yield way, part
    if isinstance(part, dict):
        for key, one in part.items():
            yield from places(one, (*way, key))
    elif isinstance(part, list):
        numbers = range(len(part)) if len(part) <= LONG else (0, len(part) - 1)
        for number in numbers:
            yield from places(part[number], (*way, number))


def odd(value: Any) -> Any:
    """Return a value of a type that cannot stand in the place of `value`."""
    if isinstance(value, str):
        return 17
    return {"odd": []} if value is None else "odd"


def with_value(state: dict[str, Any], way: Place, value: Any) -> dict[str, Any]:
    """Return a copy of a state with one value replaced."""
    changed = dict(state)
    changed[str(way[0])] = copy.deepcopy(changed[str(way[0])])
    part: Any = changed
    for step in way[:-1]:
        part = part[step]
    part[way[-1]] = value
    return changed


@pytest.mark.parametrize("share", [0.35, 0.8])
def test_no_value_of_a_wrong_type_is_taken_from_a_stored_state(share: float) -> None:
    boat, _, _ = simulated_day.history()
    state = saved(share)
    taken, count = [], 0
    for way, value in places(state):
        count += 1
        try:
            Engine.from_state(boat, with_value(state, way, odd(value)))
        except StateError as err:
            # The place is named: a key, or a field of one kind of data.
            steps = [step for step in way if isinstance(step, str)]
            named = any(f"{step}: " in str(err) for step in steps) or "." in str(err)
            if not (named or way == ("version",)):
                taken.append((way, str(err)))
        else:
            taken.append((way, "was taken"))
    assert taken == []
    assert count > 300


def test_a_state_with_a_part_too_few_or_too_many_is_refused() -> None:
    boat, _, _ = simulated_day.history()
    state = saved(0.1)
    for key in state.keys() - {"version"}:
        with pytest.raises(StateError, match=key):
            Engine.from_state(boat, {one: state[one] for one in state if one != key})
    with pytest.raises(StateError, match="more"):
        Engine.from_state(boat, {**state, "more": 1})


def test_what_is_no_state_at_all_is_refused() -> None:
    boat, _, _ = simulated_day.history()
    for nothing in (None, [], "engine", 3, {}):
        with pytest.raises(StateError):
            Engine.from_state(boat, nothing)
