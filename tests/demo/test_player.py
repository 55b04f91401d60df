"""The demo's sensors and relays play the story in real time."""

from collections.abc import Callable
from datetime import timedelta
import gzip
import importlib
import json
from pathlib import Path
import sys
import time
from types import ModuleType

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
import pytest
from pytest_homeassistant_custom_component.common import async_fire_time_changed

PLAYER = Path(__file__).parents[2] / "demo/config/custom_components"

type Coming = Callable[..., object]


@pytest.fixture
def player_module(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(PLAYER))
    for name in [name for name in sys.modules if name.startswith("sandpiper")]:
        del sys.modules[name]
    return importlib.import_module("sandpiper.player")


def write_coming(path: Path, now_s: float) -> None:
    entities = [
        {"entity_id": "sensor.inverter_output", "state": "570"},
        {"entity_id": "sensor.bank_current", "state": "-44.0"},
        {"entity_id": "sensor.bank_voltage", "state": "13.00"},
        {"entity_id": "switch.galley_1", "state": "on"},
    ]
    circuit = {"start_s": now_s - 5, "step_s": 10, "power_w": [500, 520, 20]}
    rows = [
        ("sensor.inverter_output", "580", now_s + 3),
        ("switch.galley_1", "off", now_s + 15),
        ("sensor.inverter_output", "60", now_s + 16),
    ]
    document = {
        "entities": entities,
        "circuits": {"switch.galley_1": circuit},
        "rows": rows,
    }
    with gzip.open(path, "wt") as file:
        json.dump(document, file)


async def test_readings_appear_when_their_time_has_come(
    hass: HomeAssistant,
    player_module: ModuleType,
    tmp_path: Path,
    freezer: FrozenDateTimeFactory,
) -> None:
    write_coming(tmp_path / "coming.gz", time.time())
    coming = player_module.read_coming(str(tmp_path / "coming.gz"))
    player = player_module.Player(hass, coming)
    told: list[str] = []
    player.async_listen("sensor.inverter_output", lambda: told.append("inverter"))
    player.async_start()
    assert player.value("sensor.inverter_output") == "570"
    assert told == []
    for seconds, expected in ((4, "580"), (13, "60")):
        freezer.tick(timedelta(seconds=seconds))
        async_fire_time_changed(hass)
        await hass.async_block_till_done()
        if expected == "580":
            assert player.value("sensor.inverter_output") == "580"
    # The story is over: the sensors have nothing to say, rather than something old.
    assert player.value("sensor.inverter_output") is None
    assert told == ["inverter", "inverter"]
    player.async_stop()


async def test_an_open_relay_takes_its_circuit_off_the_inverter(
    hass: HomeAssistant,
    player_module: ModuleType,
    tmp_path: Path,
    freezer: FrozenDateTimeFactory,
) -> None:
    write_coming(tmp_path / "coming.gz", time.time())
    coming = player_module.read_coming(str(tmp_path / "coming.gz"))
    player = player_module.Player(hass, coming)
    player.async_switch("switch.galley_1", closed=False)
    assert not player.is_closed("switch.galley_1")
    assert player.value("sensor.inverter_output") == "70"
    # 500 W behind 92 % of conversion at 13 V are 41.8 A.
    assert float(player.value("sensor.bank_current")) == pytest.approx(-2.2, abs=0.05)
    player.async_switch("switch.galley_1", closed=True)
    assert player.is_closed("switch.galley_1")
    assert player.value("sensor.inverter_output") == "570"
