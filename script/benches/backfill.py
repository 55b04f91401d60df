"""How long does the past take, and does anybody notice? Thirty days in a real recorder.

    script/bench backfill [--days 30] [--period 5] [--seed 1] [--json OUT.json]

A simulated boat's readings are written into a recorder's database as the platform would.
Then they are read in the same windows: only read, and read and worked through by the engine
with everything that belongs to it (meals filed, statistics imported). Reported are the time
on top of the reading, as a share of the reading itself (the aim: at most 1), and the longest
time for which the event loop answered nobody, in either.
"""

import argparse
import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
import json
import logging
from pathlib import Path
import tempfile
import time
from typing import Any, Self

from homeassistant.core import HomeAssistant
from homeassistant.helpers.recorder import async_initialize_recorder
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_test_home_assistant,
)

from custom_components.galley_loads.boat.boat_entry import entry_from_mapping
from custom_components.galley_loads.boat.boat_sensors import Sources
from custom_components.galley_loads.boat.recorded import Recorded
from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.past import backfill
from demo.recorder_past import write_past
from demo.sensors import DemoEntity
from demo.simulator import SimBoat, SimOptions, random_boat, simulate

BEAT_S = 0.005


class Heartbeat:
    """Notes the longest time for which the event loop did nothing for others.

    Counted is time in which this process itself was at work: on a busy machine the whole
    process waits for its turn now and then, and that is nobody's fault here.
    """

    def __init__(self) -> None:
        """Start unworried."""
        self.longest_s = 0.0

    @asynccontextmanager
    async def watched(self) -> AsyncIterator[None]:
        """Watch the event loop meanwhile."""
        task = asyncio.create_task(self._beat())
        try:
            yield
        finally:
            task.cancel()

    async def _beat(self) -> None:
        last_s, last_work_s = time.perf_counter(), time.process_time()
        while True:
            await asyncio.sleep(BEAT_S)
            now_s, work_s = time.perf_counter(), time.process_time()
            late_s = min(now_s - last_s - BEAT_S, work_s - last_work_s)
            self.longest_s = max(self.longest_s, late_s)
            last_s, last_work_s = now_s, work_s


class Stopwatch:
    """Times one piece of work, s; the processor's time is of the whole process."""

    def __init__(self) -> None:
        """Start."""
        self.passed_s, self.processor_s = time.perf_counter(), time.process_time()

    def stop(self) -> Self:
        """Stop; from here on the two tell how long it took."""
        self.passed_s = time.perf_counter() - self.passed_s
        self.processor_s = time.process_time() - self.processor_s
        return self


@dataclass
class Figures:
    """What was measured; times in seconds, those of the processor apart."""

    days: float
    rows: int
    reading_s: float
    reading_processor_s: float
    backfill_s: float
    backfill_processor_s: float
    on_top_of_reading: float
    on_top_of_reading_processor: float
    loop_blocked_reading_ms: float
    loop_blocked_backfill_ms: float
    meals: int


def write(database: Path, boat: SimBoat, options: SimOptions, seed: int) -> int:
    """Simulate the days and write them into a database; return the number of rows."""
    sensors = boat.description["sensors"]
    entity_ids = {
        one
        for chosen in sensors.values()
        for one in (chosen if isinstance(chosen, list) else [chosen])
        if isinstance(one, str) and "." in one
    }
    entities = [DemoEntity(one, one, {}) for one in sorted(entity_ids)]
    rows = simulate(boat, seed, options).rows()
    return write_past(database, entities, (r for r in rows if r[0] in entity_ids))


@asynccontextmanager
async def platform(database: Path) -> AsyncIterator[HomeAssistant]:
    """Run the platform on a recorder's database."""
    async with async_test_home_assistant(config_dir=str(database.parent)) as hass:
        async_initialize_recorder(hass)
        settings = {"db_url": f"sqlite:///{database}", "auto_purge": False}
        assert await async_setup_component(hass, "recorder", {"recorder": settings})
        assert await async_setup_component(hass, "homeassistant", {})
        await hass.async_block_till_done()
        try:
            yield hass
        finally:
            await hass.async_stop(force=True)


async def read_only(hass: HomeAssistant, sources: Sources, from_s: float) -> int:
    """Read all windows and forget what was read; return the number of readings."""
    recorded, count, end_s = Recorded(hass, sources), 0, time.time()
    while from_s < end_s:
        to_s = min(from_s + backfill.WINDOW_S, end_s)
        count += len(await recorded.async_read(from_s, to_s))
        from_s = to_s
    return count


async def measure(database: Path, boat: SimBoat, days: float) -> Figures:
    """Read the past, then read it and work it through."""
    parts = entry_from_mapping(boat.description)
    entry = MockConfigEntry(
        domain=DOMAIN,
        title=parts.title,
        data=parts.data,
        options=parts.options,
        subentries_data=parts.subentries,
    )
    from_s = time.time() - days * 86400
    async with platform(database) as hass:
        hass.data.pop("custom_components", None)
        entry.add_to_hass(hass)
        sources = Sources(hass, entry)
        await read_only(hass, sources, from_s)  # fill the page cache
        idle, busy = Heartbeat(), Heartbeat()
        async with idle.watched():
            watch = Stopwatch()
            rows = await read_only(hass, sources, from_s)
            reading = watch.stop()
        async with busy.watched():
            assert await hass.config_entries.async_setup(entry.entry_id)
            busy.longest_s = 0.0  # the set-up itself imports modules
            watch = Stopwatch()
            while entry.runtime_data.backfill.running:
                await asyncio.sleep(0.05)
            whole = watch.stop()
        meals = len(entry.runtime_data.meals.newest)
        await hass.config_entries.async_unload(entry.entry_id)
    return Figures(
        days,
        rows,
        reading.passed_s,
        reading.processor_s,
        whole.passed_s,
        whole.processor_s,
        whole.passed_s / reading.passed_s - 1.0,
        whole.processor_s / reading.processor_s - 1.0,
        1000 * idle.longest_s,
        1000 * busy.longest_s,
        meals,
    )


def main() -> None:
    """Measure and tell."""
    parser = argparse.ArgumentParser(description=__doc__, prog="script/bench backfill")
    parser.add_argument("--days", type=float, default=30.0)
    parser.add_argument("--period", type=float, default=5.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", type=Path)
    given: Any = parser.parse_args()
    logging.disable(logging.WARNING)
    start = datetime.now(UTC).replace(microsecond=0) - timedelta(days=given.days)
    options = SimOptions(
        days=given.days, start=start.isoformat(), period_s=given.period
    )
    boat = random_boat(given.seed, options)
    with tempfile.TemporaryDirectory() as folder:
        database = Path(folder) / "home-assistant_v2.db"
        write(database, boat, options, given.seed)
        figures = asyncio.run(measure(database, boat, given.days))
    print(f"{figures.days:.0f} days, {figures.rows} readings, {figures.meals} meals")
    for what, passed_s, processor_s in (
        ("reading the rows", figures.reading_s, figures.reading_processor_s),
        ("the whole backfill", figures.backfill_s, figures.backfill_processor_s),
    ):
        print(f"{what:22}{passed_s:8.2f} s  ({processor_s:.2f} s of the processor)")
    for what, share, processor_share in (
        (
            "on top of reading",
            figures.on_top_of_reading,
            figures.on_top_of_reading_processor,
        ),
    ):
        print(
            f"{what:22}{share:8.2f} times the reading"
            f"  ({processor_share:.2f} by the processor's time)"
        )
    print(f"event loop blocked    {figures.loop_blocked_backfill_ms:8.1f} ms at most")
    print(f"  while only reading  {figures.loop_blocked_reading_ms:8.1f} ms at most")
    if given.json:
        given.json.write_text(json.dumps(asdict(figures), indent=2) + "\n")


if __name__ == "__main__":
    main()
