"""Long-term statistics of the energies that were found in the past.

A counter counts from the moment the boat was set up; the platform writes its statistics
from then on. The past is hung on behind: for every hour before, a row whose *sum* leads
up to where the platform's own rows begin. So graphs and the energy dashboard show the
past, no row that live operation wrote is touched, and reading the past again writes the
same rows once more.

Sums before the set-up are negative: the platform puts the zero of a sum at the first
state it sees. What it shows are differences, and before the first row of all it takes the
sum for zero: the first day would show everything that was found, as a loss. So one row
says what the sum was long before anybody looks. There was no state then, so the rows have
none.

Where the platform has rows of a counter of that name already, with a state, a boat of the
same name was deleted and set up again. Its rows stay as they are and nothing is imported:
the same past would be counted a second time.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final, Literal

from homeassistant.components.recorder.db_schema import Statistics
from homeassistant.components.recorder.models import (
    StatisticData,
    StatisticMeanType,
    StatisticMetaData,
)
from homeassistant.components.recorder.statistics import (
    async_import_statistics,
    get_metadata,
    statistics_during_period,
)
from homeassistant.components.recorder.util import session_scope
from homeassistant.components.sensor import DOMAIN as SENSOR_DOMAIN
from homeassistant.config_entries import ConfigEntry
from homeassistant.const import ATTR_UNIT_OF_MEASUREMENT, UnitOfEnergy
from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.recorder import get_instance
from homeassistant.util import dt as dt_util
from homeassistant.util.unit_conversion import EnergyConverter
from sqlalchemy import select

from ..boat.boat_entry import parts_of
from ..const import DOMAIN, SUBENTRY_APPLIANCE
from ..core.replay.past_replay import HOUR_S, HourlyTotals
from ..state.counters import APPLIANCE_SENSORS, BOAT_SENSORS, values_by_key

_RECORDER: Final = "recorder"

# Earlier than any past that a graph is asked to show.
_LONG_AGO: Final = datetime(2000, 1, 1, tzinfo=UTC)

# Where the platform keeps a counter's first rows: hours, and before an hour is over
# only five minutes at a time.
_PERIODS: Final[tuple[tuple[Literal["hour", "5minute"], timedelta], ...]] = (
    ("hour", timedelta(days=31)),
    ("5minute", timedelta(days=1)),
)


@dataclass(frozen=True, slots=True)
class Counter:
    """A counter that has statistics: its key, its sensor, and that sensor's unit."""

    key: str
    entity_id: str
    unit: str


def hourly_sums(
    energy_by_hour_wh: Mapping[int, float], ends_at_s: int, end_sum: float
) -> dict[int, float]:
    """Return the sum at the end of each hour before `ends_at_s`, led up to `end_sum`.

    What was found later than `ends_at_s` is added to the last hour before it: the platform
    has a row of its own from there on, and the whole must stay what was found.
    """
    folded: dict[int, float] = {}
    last_hour_s = int(ends_at_s - HOUR_S)
    for hour_s, energy_wh in sorted(energy_by_hour_wh.items()):
        at = min(hour_s, last_hour_s)
        folded[at] = folded.get(at, 0.0) + energy_wh
    if not folded:
        return {}
    sums: dict[int, float] = {}
    running = end_sum
    for hour_s in range(last_hour_s, min(folded) - int(HOUR_S) - 1, -int(HOUR_S)):
        sums[hour_s] = running
        running -= folded.get(hour_s, 0.0)
    return sums


async def async_import_past(
    hass: HomeAssistant,
    entry: ConfigEntry,
    hours: HourlyTotals,
    live_from_s: Mapping[str, float],
    counts_from_s: Mapping[str, float],
) -> None:
    """Hang the past behind the statistics of every energy counter.

    `live_from_s` says for each counter since when its sensor is there, `counts_from_s`
    from when on it counts.
    """
    names = {part.part_id: part.name for part in parts_of(entry, SUBENTRY_APPLIANCE)}
    for counter in counters_with_statistics(hass, entry):
        ends_at_s = int(live_from_s[counter.key] // HOUR_S * HOUR_S)
        energy_by_hour_wh: dict[int, float] = {}
        for hour_s, totals in hours.until(counts_from_s[counter.key]):
            if energy_wh := values_by_key(totals, names)[counter.key]:
                energy_by_hour_wh[hour_s] = (
                    energy_by_hour_wh.get(hour_s, 0.0) + energy_wh
                )
        metadata, end_sum = await get_instance(hass).async_add_executor_job(
            _live_statistics, hass, counter, ends_at_s
        )
        if end_sum is None:
            continue
        factor = EnergyConverter.convert(
            1.0, UnitOfEnergy.WATT_HOUR, metadata["unit_of_measurement"] or counter.unit
        )
        sums = hourly_sums(
            {hour_s: wh * factor for hour_s, wh in energy_by_hour_wh.items()},
            ends_at_s,
            end_sum,
        )
        if not sums:
            continue
        async_import_statistics(
            hass,
            metadata,
            [
                StatisticData(start=_LONG_AGO, sum=sums[min(sums)]),
                *(
                    StatisticData(start=dt_util.utc_from_timestamp(hour_s), sum=value)
                    for hour_s, value in sorted(sums.items())
                ),
            ],
        )


def _live_statistics(
    hass: HomeAssistant, counter: Counter, live_from_s: int
) -> tuple[StatisticMetaData, float | None]:
    """Return a counter's metadata, and the sum that stands for its state of zero.

    That is None where an older counter had the name: its rows are what stands there.
    """
    entity_id = counter.entity_id
    known = get_metadata(hass, statistic_ids={entity_id})
    if entity_id not in known:
        return _metadata(counter), 0.0
    metadata = known[entity_id][1]
    unit = metadata["unit_of_measurement"] or counter.unit
    start = dt_util.utc_from_timestamp(live_from_s)
    if _has_older_rows(hass, known[entity_id][0], live_from_s):
        return metadata, None
    for period, length in _PERIODS:
        rows = statistics_during_period(
            hass,
            start,
            start + length,
            {entity_id},
            period,
            {EnergyConverter.UNIT_CLASS: unit},
            {"state", "sum"},
        ).get(entity_id, [])
        for row in rows:
            state, total = row.get("state"), row.get("sum")
            if state is not None and total is not None:
                return metadata, total - state
    return metadata, 0.0


def _has_older_rows(hass: HomeAssistant, metadata_id: int, before_s: int) -> bool:
    """Return whether the platform wrote rows, which have a state, before a time."""
    with session_scope(hass=hass, read_only=True) as session:
        found = session.execute(
            select(Statistics.id)
            .where(Statistics.metadata_id == metadata_id)
            .where(Statistics.start_ts < before_s)
            .where(Statistics.state.is_not(None))
            .limit(1)
        ).first()
    return found is not None


def _metadata(counter: Counter) -> StatisticMetaData:
    return StatisticMetaData(
        mean_type=StatisticMeanType.NONE,
        has_sum=True,
        name=None,
        source=_RECORDER,
        statistic_id=counter.entity_id,
        unit_class=EnergyConverter.UNIT_CLASS,
        unit_of_measurement=counter.unit,
    )


def counters_with_statistics(hass: HomeAssistant, entry: ConfigEntry) -> list[Counter]:
    """Return the energy counters of a boat that are shown as sensors."""
    found: list[Counter] = []
    for key, unique_id in _unique_ids(entry):
        entity_id = er.async_get(hass).async_get_entity_id(
            SENSOR_DOMAIN, DOMAIN, unique_id
        )
        state = None if entity_id is None else hass.states.get(entity_id)
        if entity_id is None or state is None:
            continue
        unit = state.attributes.get(ATTR_UNIT_OF_MEASUREMENT)
        if unit is not None and unit in EnergyConverter.VALID_UNITS:
            found.append(Counter(key, entity_id, unit))
    return found


def _unique_ids(entry: ConfigEntry) -> Iterator[tuple[str, str]]:
    """Yield the key and the sensor's unique id of every counter of a boat."""
    for sensor_key, key in BOAT_SENSORS.items():
        yield key, f"{entry.entry_id}_{sensor_key}"
    for part in parts_of(entry, SUBENTRY_APPLIANCE):
        for sensor_key, key_of in APPLIANCE_SENSORS.items():
            yield key_of(part.part_id), f"{part.part_id}_{sensor_key}"
