"""What the recorder kept while nobody listened."""

from collections.abc import Iterable
from datetime import datetime
from heapq import merge
from typing import Final

from homeassistant.components.recorder import history
from homeassistant.core import HomeAssistant, State
from homeassistant.helpers.recorder import get_instance
from homeassistant.util import dt as dt_util

from .core.readings import Reading

LONGEST_GAP_S: Final = 48 * 3600.0
"""Of a longer absence only the end is read; the rest counts as not measured."""


async def async_read_gap(
    hass: HomeAssistant, entity_ids: Iterable[str], since_s: float, until_s: float
) -> list[Reading]:
    """Return the recorded readings of these entities between two times, in order.

    Read in the recorder's own executor, never in the event loop.
    """
    start_s = max(since_s, until_s - LONGEST_GAP_S)
    if until_s <= start_s:
        return []
    start, end = (
        dt_util.utc_from_timestamp(start_s),
        dt_util.utc_from_timestamp(until_s),
    )
    return await get_instance(hass).async_add_executor_job(
        _read, hass, sorted(entity_ids), start, end
    )


def _read(
    hass: HomeAssistant, entity_ids: list[str], start: datetime, end: datetime
) -> list[Reading]:
    streams = []
    for entity_id in entity_ids:
        states: list[State] = history.state_changes_during_period(
            hass,
            start,
            end,
            entity_id,
            no_attributes=True,
            include_start_time_state=False,
        ).get(entity_id, [])
        streams.append(
            [Reading(entity_id, s.state, s.last_updated_timestamp) for s in states]
        )
    return list(merge(*streams, key=lambda reading: reading.at_s))
