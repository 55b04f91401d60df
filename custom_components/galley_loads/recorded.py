"""What the recorder kept of the boat's sensors and relays, as readings.

Everything here runs in the recorder's own executor and looks at a bounded span at a time.
Attributes are not read: they make rows several times as heavy. Only where the first row
of a span or the one that follows it shows another unit than expected are they read for
that span, so that a sensor whose unit was changed is converted like a live one.
"""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from heapq import merge
from operator import attrgetter
from typing import Final

from homeassistant.components.recorder import history
from homeassistant.core import HomeAssistant, State
from homeassistant.helpers.recorder import get_instance
from homeassistant.util import dt as dt_util

from .core.readings import Reading
from .sources import Sources

_BEGINNING: Final = datetime.fromtimestamp(0, UTC)


async def async_oldest(hass: HomeAssistant, entity_ids: Iterable[str]) -> float | None:
    """Return the time of the oldest state kept of these entities, None without any."""
    return await get_instance(hass).async_add_executor_job(
        _oldest, hass, list(entity_ids)
    )


def _oldest(hass: HomeAssistant, entity_ids: list[str]) -> float | None:
    firsts = [
        state.last_updated_timestamp
        for entity_id in entity_ids
        for state in _states(hass, entity_id, _BEGINNING, None, limit=1)
    ]
    return min(firsts, default=None)


async def async_readings(
    hass: HomeAssistant, sources: Sources, from_s: float, to_s: float
) -> list[Reading]:
    """Return the readings kept from one time on to before another, in order of time."""
    if to_s <= from_s:
        return []
    return await get_instance(hass).async_add_executor_job(
        read_window, hass, sources, from_s, to_s
    )


def read_window(
    hass: HomeAssistant, sources: Sources, from_s: float, to_s: float
) -> list[Reading]:
    """Do the same in the thread it is called in."""
    # The recorder's queries leave out both ends.
    after = dt_util.utc_from_timestamp(from_s) - timedelta.resolution
    before = dt_util.utc_from_timestamp(to_s)
    streams = [
        _stream(hass, sources, entity_id, after, before)
        for entity_id in sources.entity_ids
    ]
    return list(merge(*streams, key=attrgetter("at_s")))


def _stream(
    hass: HomeAssistant,
    sources: Sources,
    entity_id: str,
    after: datetime,
    before: datetime,
) -> list[Reading]:
    """Return one entity's readings of a span."""
    first = _states(hass, entity_id, after, before, limit=1, attributes=True)
    if not first:
        return []
    following = _states(
        hass, entity_id, before - timedelta.resolution, None, limit=1, attributes=True
    )
    if not following and (present := hass.states.get(entity_id)) is not None:
        following = [present]
    if all(sources.has_expected_unit(state) for state in (*first, *following)):
        return [
            Reading(entity_id, state.state, state.last_updated_timestamp)
            for state in _states(hass, entity_id, after, before)
        ]
    return [
        Reading(entity_id, sources.text(state), state.last_updated_timestamp)
        for state in _states(hass, entity_id, after, before, attributes=True)
    ]


def _states(
    hass: HomeAssistant,
    entity_id: str,
    after: datetime,
    before: datetime | None,
    *,
    limit: int | None = None,
    attributes: bool = False,
) -> list[State]:
    return history.state_changes_during_period(
        hass,
        after,
        before,
        entity_id,
        no_attributes=not attributes,
        limit=limit,
        include_start_time_state=False,
    ).get(entity_id, [])
