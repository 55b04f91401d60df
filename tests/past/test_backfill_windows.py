"""The past is read window by window: in any size, interrupted, stopped, while life goes on."""

from collections.abc import Callable
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
import pytest

from custom_components.galley_loads.boat.boat_entry import boat_from_entry
from custom_components.galley_loads.boat.recorded import Recorded, RecordedReadings
from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.core.engine import Engine, run_through
from custom_components.galley_loads.core.events import MealSettled
from custom_components.galley_loads.past import backfill
from tests.at_home import LOAD, boat_entry, set_sensor, start_boat
from tests.dinner import HOUR
from tests.recorded_dinners import PROGRESS, act, meals, two_dinners
from tests.recorded_past import record

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


class Windows:
    """Watches the windows in which the past is read."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Read an hour at a time."""
        self.starts: list[float] = []
        self.after_window: Callable[[int], None] = lambda number: None
        read = Recorded.async_read

        async def watched(
            recorded: Recorded, from_s: float, to_s: float
        ) -> RecordedReadings:
            self.starts.append(from_s)
            self.after_window(len(self.starts))
            return await read(recorded, from_s, to_s)

        monkeypatch.setattr(backfill, "WINDOW_S", HOUR)
        monkeypatch.setattr(Recorded, "async_read", watched)


@pytest.fixture
def windows(monkeypatch: pytest.MonkeyPatch) -> Windows:
    """Small windows."""
    return Windows(monkeypatch)


async def test_the_size_of_the_windows_makes_no_difference(
    hass: HomeAssistant, windows: Windows
) -> None:
    readings = two_dinners()
    await record(hass, readings)
    entry = await start_boat(hass, boat_entry())
    assert len(windows.starts) > 10
    events = run_through(Engine(boat_from_entry(entry)), readings)
    assert [found.meal for found in entry.runtime_data.meals.newest] == [
        event.meal for event in events if isinstance(event, MealSettled)
    ]


async def test_an_interrupted_reading_goes_on_where_it_was(
    hass: HomeAssistant, windows: Windows, caplog: pytest.LogCaptureFixture
) -> None:
    readings = two_dinners()
    await record(hass, readings)
    entry = boat_entry()

    def interrupt(number: int) -> None:
        if number == 5:
            hass.async_create_task(hass.config_entries.async_unload(entry.entry_id))

    windows.after_window = interrupt
    entry.add_to_hass(hass)
    await start_boat(hass, entry)
    await hass.async_block_till_done(wait_background_tasks=True)
    assert "interrupted" in caplog.text
    seen = len(windows.starts)
    assert seen < 10
    await start_boat(hass, entry)
    # Nothing was read twice but what the interruption cut short.
    assert windows.starts[seen] >= windows.starts[seen - 1]
    events = run_through(Engine(boat_from_entry(entry)), readings)
    assert [found.meal for found in entry.runtime_data.meals.newest] == [
        event.meal for event in events if isinstance(event, MealSettled)
    ]
    assert hass.states.get(PROGRESS).state == "100.0"


async def test_the_reading_can_be_stopped_and_asked_for_again(
    hass: HomeAssistant, windows: Windows
) -> None:
    await record(hass, two_dinners())
    entry = await start_boat(hass, boat_entry())
    with pytest.raises(ServiceValidationError, match="not being read"):
        await act(hass, "stop_backfill")
    refused: list[str] = []

    async def stop() -> None:
        try:
            await hass.services.async_call(DOMAIN, "backfill", {}, blocking=True)
        except ServiceValidationError as err:
            refused.append(str(err))
        await hass.services.async_call(DOMAIN, "stop_backfill", {}, blocking=True)

    windows.starts.clear()
    windows.after_window = lambda n: hass.async_create_task(stop()) if n == 3 else None
    await act(hass, "backfill")
    assert refused == ["The past of Kittiwake is being read already"]
    assert entry.runtime_data.backfill.progress.state == "stopped"
    assert 0 < float(hass.states.get(PROGRESS).state) < 100
    await act(hass, "backfill")
    assert entry.runtime_data.backfill.progress.state == "done"
    assert len(await meals(hass)) == 2


async def test_what_is_said_while_past_and_present_meet_is_not_lost(
    hass: HomeAssistant,
    windows: Windows,
    monkeypatch: pytest.MonkeyPatch,
    hass_storage: dict[str, Any],
) -> None:
    await record(hass, two_dinners())
    entry = boat_entry()
    saved: list[bool] = []
    monkeypatch.setattr(backfill, "SAVE_EVERY_S", 0.0)
    monkeypatch.setattr(backfill, "_FEW_READINGS", 0)

    def speak(number: int) -> None:
        set_sensor(hass, LOAD, 150.0 + number)
        stored = hass_storage.get(f"{DOMAIN}.{entry.entry_id}.history", {})
        saved.append(bool(stored.get("data", {}).get("run")))

    windows.after_window = speak
    await start_boat(hass, entry)
    # Work is saved as it goes on, and not kept when it is done.
    assert saved[-1]
    assert hass_storage[f"{DOMAIN}.{entry.entry_id}.history"]["data"]["run"] is None
    last = entry.runtime_data.coordinator._engine.last_sample
    assert last.load_w == 150.0 + len(windows.starts)
    assert len(await meals(hass)) == 2
