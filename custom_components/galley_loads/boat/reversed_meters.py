"""Meters that count backwards: below zero while power flows.

A boat file says it at the meter. An entry keeps them in one list, the boat's own meters
and those of appliances alike; each form shows and changes those that it asks for.
"""

from collections.abc import Collection, Mapping
from typing import Any

from ..const import CONF_REVERSED
from .sensor_check import ONE_WAY


def one_way_meters(sensors: Mapping[str, Any]) -> list[str]:
    """Return the entity ids of a sensors section that may count backwards."""
    chosen = [sensors[role] for role in ONE_WAY if sensors.get(role)]
    return [
        one for each in chosen for one in (each if isinstance(each, list) else [each])
    ]


def reversed_of(data: Mapping[str, Any], meters: Collection[str]) -> list[str]:
    """Return those of some meters that count backwards by an entry's data."""
    return [one for one in data.get(CONF_REVERSED, ()) if one in meters]


def with_reversed(
    data: Mapping[str, Any], meters: Collection[str], turned: Collection[str]
) -> dict[str, Any]:
    """Return an entry's data in which of `meters` just `turned` count backwards."""
    changed = dict(data)
    others = [one for one in changed.pop(CONF_REVERSED, ()) if one not in meters]
    if others or turned:
        changed[CONF_REVERSED] = [*others, *turned]
    return changed
