"""A simulated day's dinner, lived through in the platform, found as replay finds it."""

from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.common import async_capture_events

from custom_components.galley_loads.boat.boat_entry import boat_from_entry
from custom_components.galley_loads.const import EVENT_MEAL_FINISHED, EVENT_RUN_FINISHED
from custom_components.galley_loads.core.boat.boat_schema import (
    boat_to_mapping,
    parse_boat,
)
from custom_components.galley_loads.core.engine import Engine, run_through
from custom_components.galley_loads.core.events import MealSettled, RunSettled
from custom_components.galley_loads.core.metering.reading import Reading
from demo.simulator import SimOptions, random_boat, simulate

from .at_home import boat_entry, settle, start_boat

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

SEED = 4
BEFORE_S, AFTER_S, TURN_S = 1500.0, 5400.0, 60.0


def evening() -> tuple[dict[str, Any], list[Reading]]:
    """Return a boat and its readings around the longest meal of a day."""
    options = SimOptions(days=1, period_s=10, appliances=4)
    boat = random_boat(SEED, options)
    result = simulate(boat, SEED, options)
    meal = max(result.truth.meals, key=lambda meal: meal.end_s - meal.start_s)
    rows = [
        Reading(*row)
        for row in result.rows()
        if meal.start_s - BEFORE_S <= row[2] <= meal.end_s + AFTER_S
    ]
    return boat_to_mapping(parse_boat(boat.description)), rows


def brief(run: dict[str, Any]) -> tuple[str, int, int, float]:
    return (
        run["appliance"],
        round(run["start_s"]),
        round(run["end_s"]),
        round(run["energy_wh"], 3),
    )


async def test_a_simulated_meal_lived_through_is_the_meal_that_replay_finds(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    mapping, rows = evening()
    runs = async_capture_events(hass, EVENT_RUN_FINISHED)
    meals = async_capture_events(hass, EVENT_MEAL_FINISHED)
    freezer.move_to(dt_util.utc_from_timestamp(rows[0].at_s - 1))
    entry = await start_boat(hass, boat_entry(mapping))
    turn_s = rows[0].at_s
    given: list[Reading] = []
    for row in rows:
        freezer.move_to(dt_util.utc_from_timestamp(row.at_s))
        hass.states.async_set(row.entity_id, row.state)
        given.append(
            Reading(
                row.entity_id,
                row.state,
                hass.states.get(row.entity_id).last_updated_timestamp,
            )
        )
        if row.at_s - turn_s >= TURN_S:
            turn_s = row.at_s
            await settle(hass)
    # What is not settled yet is cut short the same way on both sides.
    engine = Engine(boat_from_entry(entry))
    settled = [event for reading in given for event in engine.feed(reading)]
    settled += engine.advance(given[-1].at_s)
    expected = [e.run for e in settled if isinstance(e, RunSettled)]
    assert [brief(run.data) for run in runs] == [
        (r.appliance, round(r.start_s), round(r.end_s), round(r.energy_wh, 3))
        for r in expected
    ]
    assert len(runs) >= 2
    expected_meals = [e.meal for e in settled if isinstance(e, MealSettled)]
    assert [(m.data["label"], m.data["energy_wh"]) for m in meals] == [
        (m.label, pytest.approx(m.energy_wh)) for m in expected_meals
    ]
    assert meals
    # And replay, which ends the history, finds these and no others before its end.
    whole = run_through(Engine(boat_from_entry(entry)), given)
    replayed = [e.run for e in whole if isinstance(e, RunSettled)]
    assert replayed[: len(expected)] == expected
