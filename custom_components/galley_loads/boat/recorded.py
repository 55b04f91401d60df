"""What the recorder kept of the boat's sensors and relays, as readings.

Everything here runs in the recorder's own executor and looks at a bounded span at a time.
Attributes are not read: they make rows several times as heavy. Only where the first row
of a span or the one that follows it shows another unit than expected are they read for
that span, so that a sensor whose unit was changed is converted like a live one.

Rows are kept as plain tuples: ten thousands of objects that live for some seconds would
have Python search the whole platform for garbage again and again, and for that long
nothing else runs.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from operator import itemgetter
from typing import Final

from homeassistant.components.recorder import history
from homeassistant.core import HomeAssistant, State
from homeassistant.helpers.recorder import get_instance
from homeassistant.util import dt as dt_util

from ..boat.boat_sensors import Sources
from ..core.metering.reading import Reading, ReadingRow

_BEGINNING: Final = datetime.fromtimestamp(0, UTC)
_NEVER: Final = float("inf")
_at_s: Final = itemgetter(2)


@dataclass(slots=True)
class RecordedReadings:
    """The readings of a span, in order of time."""

    rows: list[ReadingRow] = field(default_factory=list)

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.rows)

    def __iter__(self) -> Iterator[Reading]:
        """Yield them one at a time."""
        return map(Reading._make, self.rows)


@dataclass(frozen=True, slots=True)
class _Ahead:
    """The next row of an entity: its time, and whether its unit is the expected one."""

    at_s: float
    fits: bool


class Recorded:
    """Reads span after span of one boat's past."""

    def __init__(self, hass: HomeAssistant, sources: Sources) -> None:
        """Know whom to read."""
        self._hass = hass
        self._sources = sources
        self._ahead: dict[str, _Ahead] = {}
        self._read_until_s: float | None = None

    async def async_oldest(self) -> float | None:
        """Return the time of the oldest state kept, None without any."""
        return await get_instance(self._hass).async_add_executor_job(self._oldest)

    async def async_read(self, from_s: float, to_s: float) -> RecordedReadings:
        """Return the readings kept from one time on to before another."""
        if to_s <= from_s:
            return RecordedReadings()
        return await get_instance(self._hass).async_add_executor_job(
            self.read, from_s, to_s
        )

    def _oldest(self) -> float | None:
        firsts = [
            state.last_updated_timestamp
            for entity_id in self._sources.entity_ids
            for state in self._states(entity_id, _BEGINNING, None, limit=1)
        ]
        return min(firsts, default=None)

    def read(self, from_s: float, to_s: float) -> RecordedReadings:
        """Do what `async_read` does in the thread it is called in."""
        if from_s != self._read_until_s:
            self._ahead.clear()
        self._read_until_s = to_s
        found = RecordedReadings()
        for entity_id in self._sources.entity_ids:
            found.rows.extend(self._rows(entity_id, from_s, to_s))
        found.rows.sort(key=_at_s)
        return found

    def _rows(self, entity_id: str, from_s: float, to_s: float) -> list[ReadingRow]:
        ahead = self._ahead.get(entity_id)
        if ahead is None or ahead.at_s == _NEVER:
            ahead = self._look_ahead(entity_id, from_s)
        if ahead.at_s >= to_s:
            self._ahead[entity_id] = ahead
            return []
        following = self._look_ahead(entity_id, to_s)
        self._ahead[entity_id] = following
        # The recorder's queries leave out both ends.
        after = dt_util.utc_from_timestamp(from_s) - timedelta.resolution
        before = dt_util.utc_from_timestamp(to_s)
        if ahead.fits and following.fits:
            return [
                (entity_id, state.state, state.last_updated_timestamp)
                for state in self._states(entity_id, after, before)
            ]
        return [
            (entity_id, self._sources.text(state), state.last_updated_timestamp)
            for state in self._states(entity_id, after, before, attributes=True)
        ]

    def _look_ahead(self, entity_id: str, from_s: float) -> _Ahead:
        """Return the first row from a time on; behind the last, what holds at present."""
        after = dt_util.utc_from_timestamp(from_s) - timedelta.resolution
        for state in self._states(entity_id, after, None, limit=1, attributes=True):
            return _Ahead(
                state.last_updated_timestamp, self._sources.has_expected_unit(state)
            )
        present = self._hass.states.get(entity_id)
        return _Ahead(
            _NEVER, present is None or self._sources.has_expected_unit(present)
        )

    def _states(
        self,
        entity_id: str,
        after: datetime,
        before: datetime | None,
        *,
        limit: int | None = None,
        attributes: bool = False,
    ) -> list[State]:
        return history.state_changes_during_period(
            self._hass,
            after,
            before,
            entity_id,
            no_attributes=not attributes,
            limit=limit,
            include_start_time_state=False,
        ).get(entity_id, [])


async def async_readings(
    hass: HomeAssistant, sources: Sources, from_s: float, to_s: float
) -> RecordedReadings:
    """Return the readings of a single span."""
    return await Recorded(hass, sources).async_read(from_s, to_s)
