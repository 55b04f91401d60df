"""A real Home Assistant, an afternoon, a meal, and a power cut in the middle of it.

    python -m tests.afternoon FOLDER PORT

Starts the platform on FOLDER, sets a boat up through the forms that the pages show, cooks,
kills the platform while the oven heats, starts it again and prints as JSON what it knew
before and after. The recorder holds the afternoon with its lunch from the beginning; the
boat counts from noon on, as it does when its first reading of the past was interrupted by
an earlier power cut and goes on now.
"""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field
import json
from pathlib import Path
import sys
import time
from typing import Any

from aiohttp import ClientError, ClientSession

from demo import process
from demo.client import Platform, http_session
from demo.recorder_past import write_past
from demo.sensors import DemoEntity

from .dinner import (
    BACKGROUND_W,
    CURRENT,
    EFFICIENCY,
    HOUR,
    LOAD,
    SOC,
    SOLAR,
    VOLTAGE,
    VOLTAGE_V,
    changes,
    dinner,
)

ROOT = Path(__file__).parents[1]

UNITS = {LOAD: "W", SOLAR: "W", CURRENT: "A", VOLTAGE: "V", SOC: "%"}

PAST_S = 5 * HOUR
NOON_S = 1200.0
"""The oven is heating for lunch when counting begins."""

OVEN_W = 2000.0
BEFORE_CUT_S = 26.0
AFTER_CUT_S = 8.0

MEAL = "sensor.kittiwake_current_meal_energy"
COUNTERS = (
    "sensor.kittiwake_galley_energy",
    "sensor.oven_energy",
    "sensor.kettle_energy",
)

SETTINGS = """
homeassistant:
  name: Kittiwake
  latitude: 38.53
  longitude: -28.62
  time_zone: Atlantic/Azores
  unit_system: metric
  country: PT
config:
history:
recorder:
  commit_interval: 1
logger:
  default: warning
"""

FORMS: tuple[dict[str, Any], ...] = (
    {
        "ac_load_power": LOAD,
        "solar_power": [SOLAR],
        "battery_current": CURRENT,
        "battery_voltage": VOLTAGE,
        "battery_soc": SOC,
        "battery_power_positive": "charging",
    },
    {"capacity_ah": 560, "nominal_voltage": 12.8, "reserve_soc": 35},
    {"continuous_power": 2500, "efficiency": 100 * EFFICIENCY},
    {"array_power": 540},
    {
        "name": "Kittiwake",
        "location": {"latitude": 38.53, "longitude": -28.62},
        "time_zone": "Atlantic/Azores",
    },
)

APPLIANCES: tuple[dict[str, Any], ...] = (
    {"name": "Kettle", "kind": "kettle", "rated_power": 1500, "supply": "ac"},
    {"name": "Oven", "kind": "oven", "rated_power": 2000, "supply": "ac"},
)


@dataclass
class Told:
    """What the platform said at a moment, and what was true then."""

    meal_wh: float | None
    true_wh: float
    counters: dict[str, float] = field(default_factory=dict)


class Afternoon:
    """Drives one Home Assistant through the afternoon."""

    def __init__(self, folder: Path, port: int, session: ClientSession) -> None:
        """Keep where everything is."""
        self.folder, self.port = folder, port
        self.platform = Platform(session, f"http://127.0.0.1:{port}")
        self._session = session
        self._process: asyncio.subprocess.Process | None = None
        self._cooking_from_s: float | None = None

    # The platform

    def prepare(self) -> None:
        """Make the configuration folder, with the afternoon so far in the recorder."""
        storage = self.folder / ".storage"
        storage.mkdir(parents=True)
        components = self.folder / "custom_components"
        components.mkdir()
        (components / "galley_loads").symlink_to(
            ROOT / "custom_components" / "galley_loads"
        )
        (self.folder / "configuration.yaml").write_text(SETTINGS)
        stable = {
            "server_port": self.port,
            "server_host": ["127.0.0.1"],
            "cors_allowed_origins": [],
            "login_attempts_threshold": -1,
            "ip_ban_enabled": True,
            "ssl_profile": "modern",
            "use_x_frame_options": True,
            "created_at": "2026-01-01T00:00:00+00:00",
            "error": None,
            "error_message": None,
        }
        self._store(
            "http",
            (2, 2),
            {"stable": stable, "pending": None, "yaml_migration_done": True},
        )
        done = {"done": ["core_config", "analytics", "integration"]}
        self._store("onboarding", (4, 1), done)
        start_s = time.time() - PAST_S
        rest_s = PAST_S - HOUR  # the dinner of the tests lasts a little less
        rows = [
            (r.entity_id, r.state, r.at_s)
            for r in changes(dinner(start_s, rest_s))
            if r.at_s < time.time()
        ]
        entities = [
            DemoEntity(entity_id, entity_id, {"unit_of_measurement": unit})
            for entity_id, unit in UNITS.items()
        ]
        write_past(
            self.folder / "home-assistant_v2.db",
            entities,
            [row for row in rows if row[0] in UNITS],
        )

    def _store(self, key: str, version: tuple[int, int], data: dict[str, Any]) -> None:
        content = {"version": version[0], "minor_version": version[1], "key": key}
        path = self.folder / ".storage" / key
        path.write_text(json.dumps(content | {"data": data}))

    @asynccontextmanager
    async def running(self) -> AsyncIterator[None]:
        """Start the platform; kill it in the end, as a power cut does."""
        self._process = await process.start(self.folder)
        try:
            await self._wait_until_served()
            yield
        finally:
            await self.cut_power()

    async def _wait_until_served(self) -> None:
        """Wait until the platform answers, login or not."""
        for _ in range(600):
            assert self._process is not None
            assert self._process.returncode is None, "the platform ended by itself"
            with suppress(ClientError, TimeoutError):
                async with self._session.get(
                    f"http://127.0.0.1:{self.port}/api/"
                ) as answer:
                    if answer.status in (200, 401):
                        return
            await asyncio.sleep(0.1)
        raise AssertionError("the platform did not answer within a minute")

    async def cut_power(self) -> None:
        """Kill the platform without a warning."""
        if self._process is not None and self._process.returncode is None:
            self._process.kill()
            await self._process.wait()

    # The boat

    async def set_up_boat(self) -> str:
        """Answer the forms for the boat and its appliances; return the entry's id."""
        flows = "/api/config/config_entries/flow"
        step = await self.platform.post(flows, {"handler": "galley_loads"})
        answers = ({"next_step_id": "sensors"}, *FORMS)
        for given in answers:
            assert not step.get("errors"), step
            step = await self.platform.post(f"{flows}/{step['flow_id']}", given)
        assert step["type"] == "create_entry", step
        entry_id = str(step["result"]["entry_id"])
        flows = "/api/config/config_entries/subentries/flow"
        for given in APPLIANCES:
            step = await self.platform.post(flows, {"handler": [entry_id, "appliance"]})
            step = await self.platform.post(f"{flows}/{step['flow_id']}", given)
            assert step["type"] == "create_entry", step
            await asyncio.sleep(0.5)  # the boat is loaded anew
        return entry_id

    async def count_from_noon(self, entry_id: str) -> None:
        """Load the boat as an interrupted first reading of the past leaves it."""
        await self.platform.open_socket()
        await self._enable(entry_id, False)
        storage = self.folder / ".storage"
        path = storage / f"galley_loads.{entry_id}.history"
        content = json.loads(path.read_text())
        content["data"] |= {
            "first_start_s": time.time() - PAST_S + NOON_S,
            "counts_from_s": {},
            "boat": None,
            "run": None,
        }
        path.write_text(json.dumps(content))
        for left in (f"galley_loads.{entry_id}", f"galley_loads.{entry_id}.journal"):
            (storage / left).unlink(missing_ok=True)
        await self._enable(entry_id, True)
        await self.platform.close_socket()

    async def _enable(self, entry_id: str, enabled: bool) -> None:
        await self.platform.ask(
            "config_entries/disable",
            entry_id=entry_id,
            disabled_by=None if enabled else "user",
        )

    # The crew

    async def feed(self, load_w: float) -> None:
        """Let the sensors say something."""
        amps = -load_w / EFFICIENCY / VOLTAGE_V
        volts = VOLTAGE_V + int(time.time()) % 2 / 100
        for entity_id, value in (
            (SOLAR, "0"),
            (SOC, "80"),
            (VOLTAGE, f"{volts:.2f}"),
            (CURRENT, f"{amps:.2f}"),
            (LOAD, f"{load_w:.0f}"),
        ):
            await self.platform.post(
                f"/api/states/{entity_id}",
                {
                    "state": value,
                    "attributes": {"unit_of_measurement": UNITS[entity_id]},
                },
            )

    async def cook(self, seconds: float) -> None:
        """Have the oven on for a while."""
        if self._cooking_from_s is None:
            self._cooking_from_s = time.time()
        until_s = time.monotonic() + seconds
        while time.monotonic() < until_s:
            await self.feed(BACKGROUND_W + OVEN_W)
            await asyncio.sleep(0.5)

    async def cook_until_told(self) -> None:
        """Go on cooking until the platform tells of the meal, a slow start included."""
        for _ in range(60):
            told = await self.told()
            if told.meal_wh is not None and len(told.counters) == len(COUNTERS):
                return
            await self.cook(1.0)
        raise AssertionError(f"no meal is told of: {told}")

    async def told(self) -> Told:
        """Return what the platform says now; the truth is of when it said it."""
        states = {s["entity_id"]: s for s in await self._states()}
        meal = states.get(MEAL)
        true_wh = 0.0
        if self._cooking_from_s is not None:
            true_wh = (time.time() - self._cooking_from_s) * OVEN_W / 3600
        return Told(
            None if meal is None else _number(meal["state"]),
            true_wh,
            {
                entity_id: value
                for entity_id in COUNTERS
                if entity_id in states
                and (value := _number(states[entity_id]["state"])) is not None
            },
        )

    async def _states(self) -> list[dict[str, Any]]:
        return await self.get("/api/states")

    async def get(self, path: str) -> Any:
        """Return what the platform has at an address."""
        headers = {"Authorization": f"Bearer {self.platform.token}"}
        address = f"http://127.0.0.1:{self.port}{path}"
        async with self._session.get(address, headers=headers) as answer:
            answer.raise_for_status()
            return await answer.json()

    async def wait_for_counters(self) -> None:
        """Wait until the afternoon is counted."""
        for _ in range(120):
            counters = (await self.told()).counters
            if len(counters) == len(COUNTERS) and counters[COUNTERS[0]] > 0:
                return
            await self.feed(BACKGROUND_W)
            await asyncio.sleep(0.5)
        raise AssertionError(f"nothing was counted: {counters}")

    async def meals(self) -> list[dict[str, Any]]:
        """Return the meals of the book."""
        answer = await self.platform.post(
            "/api/services/galley_loads/list_meals?return_response", {"runs": True}
        )
        return list(answer["service_response"]["meals"])


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


async def live_through(folder: Path, port: int) -> dict[str, Any]:
    """Return what was known before and after the power cut."""
    began_s = time.monotonic()
    async with http_session() as session:
        afternoon = Afternoon(folder, port, session)
        afternoon.prepare()
        async with afternoon.running():
            await afternoon.platform.onboard()
            await afternoon.feed(BACKGROUND_W)
            entry_id = await afternoon.set_up_boat()
            await afternoon.count_from_noon(entry_id)
            await afternoon.wait_for_counters()
            await afternoon.cook(BEFORE_CUT_S)
            await afternoon.cook_until_told()
            before = await afternoon.told()
            lunch = await afternoon.meals()
        cut_s = time.monotonic()
        async with afternoon.running():
            up_s = time.monotonic()
            first = await afternoon.told()
            await afternoon.cook(AFTER_CUT_S)
            await afternoon.cook_until_told()
            after = await afternoon.told()
            lunch_after = await afternoon.meals()
    return {
        "before": vars(before),
        "first": vars(first),
        "after": vars(after),
        "meals_before": lunch,
        "meals_after": lunch_after,
        "down_s": up_s - cut_s,
        "whole_s": time.monotonic() - began_s,
    }


if __name__ == "__main__":
    known = asyncio.run(live_through(Path(sys.argv[1]), int(sys.argv[2])))
    sys.stdout.write(json.dumps(known))
