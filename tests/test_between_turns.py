"""Only one thread at a time touches an engine, and updates go out between its turns."""

import asyncio
from collections.abc import Callable
from datetime import timedelta
import threading
import time
from typing import Any

from homeassistant.core import HomeAssistant, callback
import pytest

from custom_components.galley_loads import coordinator as coordinator_module
from custom_components.galley_loads.coordinator import GalleyCoordinator
from custom_components.galley_loads.core.engine import Engine
from custom_components.galley_loads.core.events import Event
from custom_components.galley_loads.past import backfill

from .at_home import boat_entry, set_sensors
from .recorded_dinners import act, meals, two_dinners
from .recorded_past import record

WORK = ("feed_all", "advance", "finish", "live", "outlook", "snapshot", "view")


class Watched:
    """Notes which engine works in which thread, and who touches one from another."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Watch all engines."""
        self.touched: list[str] = []
        self._workers: dict[int, int] = {}
        self._turns = 0
        for name in WORK:
            monkeypatch.setattr(Engine, name, self._slow(getattr(Engine, name)))
        workers, touched = self._workers, self.touched

        def look(engine: Engine, name: str) -> Any:
            if workers.get(id(engine), threading.get_ident()) != threading.get_ident():
                touched.append(f"{name} from {threading.current_thread().name}")
            return object.__getattribute__(engine, name)

        monkeypatch.setattr(Engine, "__getattribute__", look)

    def _slow(self, method: Callable[..., Any]) -> Callable[..., Any]:
        """Return a method that lasts long enough for others to come in between."""

        def work(engine: Engine, *arguments: Any) -> Any:
            outermost = id(engine) not in self._workers
            if outermost:
                self._workers[id(engine)] = threading.get_ident()
            try:
                if threading.current_thread() is not threading.main_thread():
                    time.sleep(0.001)
                return method(engine, *arguments)
            finally:
                if outermost:
                    del self._workers[id(engine)]

        return work

    def works(self, engine: Engine) -> bool:
        """Return whether an engine is at work."""
        return id(engine) in self._workers


@pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")
async def test_nobody_looks_into_an_engine_at_work_while_past_and_present_come_in(
    hass: HomeAssistant, monkeypatch: pytest.MonkeyPatch
) -> None:
    await record(hass, two_dinners())
    monkeypatch.setattr(coordinator_module, "SHORTEST_UPDATE_S", 0.0)
    monkeypatch.setattr(coordinator_module, "TICK", timedelta(milliseconds=100))
    monkeypatch.setattr(backfill, "WINDOW_S", 2 * 3600.0)
    watched = Watched(monkeypatch)
    amid_a_turn: list[str] = []
    heard = {"updates": 0, "settled": 0}
    start = GalleyCoordinator.async_start

    async def start_and_listen(coordinator: GalleyCoordinator) -> None:
        await start(coordinator)

        @callback
        def updated() -> None:
            heard["updates"] += 1
            if watched.works(coordinator._engine):
                amid_a_turn.append("update")
            known = coordinator.known
            assert (known.live is None) == (known.sample is None)

        @callback
        def settled(events: list[Event], is_news: bool) -> None:
            heard["settled"] += 1
            if watched.works(coordinator._engine):
                amid_a_turn.append("settled")

        coordinator.async_add_listener(updated)
        coordinator.async_subscribe(settled)

    monkeypatch.setattr(GalleyCoordinator, "async_start", start_and_listen)
    entry = boat_entry()
    entry.add_to_hass(hass)
    set_sensors(hass)
    assert await hass.config_entries.async_setup(entry.entry_id)
    runtime = entry.runtime_data
    assert runtime.backfill.running
    asked_again = False
    number = 0
    while runtime.backfill.running or not asked_again:
        if not runtime.backfill.running:
            # Once more, with a present that counts.
            assert not runtime.coordinator.provisional
            asked_again = await runtime.backfill.async_request()
        number += 1
        set_sensors(hass, 120.0 if number // 20 % 2 else 2100.0 + number % 3)
        await asyncio.sleep(0.02)
    await hass.async_block_till_done(wait_background_tasks=True)
    assert runtime.backfill.progress.state == "done"
    assert watched.touched == []
    assert amid_a_turn == []
    assert heard["updates"] > 20
    assert len(await meals(hass)) == 2
    await act(hass, "get_cut_log")
