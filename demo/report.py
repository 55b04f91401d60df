"""What the demo prints: the meals that were found, and what runs now."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from .sandpiper import APPLIANCES, NAME, TIME_ZONE

type States = Mapping[str, Mapping[str, Any]]
"""The platform's states by entity id."""


def slug(name: str) -> str:
    """Return a name as entity ids have it."""
    return name.lower().replace(" ", "_")


def meal_lines(meals: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """Yield a table of meals as the action `list_meals` gives them, in boat time."""
    widest = max((len(meal["appliances"]) for meal in meals), default=0)
    for meal in meals:
        start = datetime.fromisoformat(meal["start"]).astimezone(ZoneInfo(TIME_ZONE))
        share = meal["solar_share"]
        sun = "" if share is None else f"  {100 * share:3.0f} % from the sun"
        yield (
            f"  {start:%a %d %b %H:%M}  {meal['label']:<9}  {meal['appliances']:<{widest}}"
            f"  {meal['energy_wh']:5.0f} Wh  {meal['bank_ah']:5.1f} Ah{sun}"
        )


def running_lines(states: States) -> Iterator[str]:
    """Yield a line for each appliance that runs, and one for the meal so far."""
    running = [
        appliance.name
        for appliance in APPLIANCES
        if _text(states, f"binary_sensor.{slug(appliance.name)}_running") == "on"
    ]
    if not running:
        yield "  nothing"
    for name in running:
        doing = _text(states, f"sensor.{slug(name)}_state")
        yield f"  {name:<13} {doing:<8} {_number(states, f'sensor.{slug(name)}_power'):5.0f} W"
    boat = slug(NAME)
    energy_wh = _number(states, f"sensor.{boat}_current_meal_energy")
    charge_ah = _number(states, f"sensor.{boat}_current_meal_bank_charge")
    if energy_wh:
        yield f"  this meal so far: {energy_wh:.0f} Wh, {charge_ah:.1f} Ah at the bank"


def _text(states: States, entity_id: str) -> str:
    return str(states.get(entity_id, {}).get("state", "unknown"))


def _number(states: States, entity_id: str) -> float:
    try:
        return float(_text(states, entity_id))
    except ValueError:
        return 0.0
