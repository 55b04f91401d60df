"""Dinner aboard, lived through step by step in the test harness."""

from collections.abc import Iterator
from dataclasses import asdict
import time
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import Event, HomeAssistant
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.galley_loads.boat.boat_entry import boat_from_entry
from custom_components.galley_loads.core.engine import Engine, run_through
from custom_components.galley_loads.core.events import MealSettled, RunSettled
from custom_components.galley_loads.core.metering.reading import Reading

from .at_home import (
    CURRENT,
    LOAD,
    PLAIN,
    VOLTAGE,
    boat_entry,
    later,
    set_sensor,
    set_sensors,
    settle,
    start_boat,
)
from .dinner import BACKGROUND_W, DINNER

START = "2026-05-11T17:30:00+00:00"
STEP_S = 20
END_S = int(DINNER[-1][0])


def meal_steps(until_s: int, from_s: int = 0) -> Iterator[tuple[int, float]]:
    """Return the time and load of every twenty seconds."""
    load_w, changes = BACKGROUND_W, list(DINNER)
    for at_s in range(0, until_s + STEP_S, STEP_S):
        while changes and changes[0][0] <= at_s:
            load_w = changes.pop(0)[1]
        if at_s >= from_s:
            yield at_s, load_w


class DinnerAboard:
    """Lets dinner be cooked aboard Kittiwake, and keeps the readings it gave."""

    def __init__(self, hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> None:
        """Start in the late afternoon, with all sensors saying something plain."""
        self.hass, self.freezer = hass, freezer
        self.readings: list[Reading] = []
        freezer.move_to(START)
        set_sensors(hass, BACKGROUND_W)
        for entity_id in sorted(PLAIN):
            self.keep(entity_id, hass.states.get(entity_id).state)

    def keep(self, entity_id: str, value: Any) -> None:
        """Keep a reading for the comparison with the engine alone."""
        self.readings.append(Reading(entity_id, str(value), time.time()))

    async def begin(
        self, cooked_s: int | None = None, entry: MockConfigEntry | None = None
    ) -> MockConfigEntry:
        """Set the boat up at the start, and cook until a second after it."""
        entry = await start_boat(self.hass, entry or boat_entry())
        if cooked_s is not None:
            await self.cook(cooked_s)
        return entry

    def turn_to(self, at_s: float) -> None:
        """Set the clock to a second after the start."""
        self.freezer.move_to(START)
        self.freezer.tick(at_s)

    async def tick(self, seconds: float) -> None:
        """Let time pass in one go."""
        await later(self.hass, self.freezer, seconds)

    async def cook(self, until_s: int, from_s: int = 0) -> None:
        """Live through the meal in steps of twenty seconds."""
        before_w: float | None = None
        for at_s, load_w in meal_steps(until_s, from_s):
            self.turn_to(at_s)
            if load_w != before_w:
                current_a = round(-load_w / 0.92 / 13.0, 2)
                for entity_id, value in ((CURRENT, current_a), (LOAD, load_w)):
                    set_sensor(self.hass, entity_id, value)
                    self.keep(entity_id, value)
                before_w = load_w
            # Something aboard always reports.
            voltage_v = 13.0 + at_s // STEP_S % 2 / 100
            set_sensor(self.hass, VOLTAGE, voltage_v)
            self.keep(VOLTAGE, voltage_v)
            await settle(self.hass)

    async def rest(self, from_s: int, seconds: int) -> None:
        """Let time pass after the meal, two minutes at a time."""
        for at_s in range(from_s, from_s + seconds, 120):
            self.turn_to(at_s)
            set_sensor(self.hass, LOAD, BACKGROUND_W)
            self.keep(LOAD, BACKGROUND_W)
            await settle(self.hass)


ENERGIES = (
    "sensor.kettle_energy",
    "sensor.oven_energy",
    "sensor.kittiwake_galley_energy",
)


def energy_wh(hass: HomeAssistant, entity_id: str) -> float:
    return 1000 * float(hass.states.get(entity_id).state)


def brief(run: Any) -> tuple[str, int, int, float]:
    """Return what two tellings of a run are compared by."""
    data = run.data if isinstance(run, Event) else asdict(run)
    return (
        data["appliance"],
        round(data["start_s"]),
        round(data["end_s"]),
        round(data["energy_wh"], 6),
    )


def from_engine(
    entry: MockConfigEntry, readings: list[Reading]
) -> tuple[list[Any], list[Any]]:
    """Return the runs and meals that the engine finds in the same readings."""
    events = run_through(Engine(boat_from_entry(entry)), readings)
    return (
        [event.run for event in events if isinstance(event, RunSettled)],
        [event.meal for event in events if isinstance(event, MealSettled)],
    )
