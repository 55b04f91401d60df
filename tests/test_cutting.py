"""Circuits in the platform: cut, refused, asked about, stuck, kept."""

from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import issue_registry as ir
import pytest

from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.galley_watch import issue_id

from .at_home import RELAY, set_sensor, subentry_id
from .watched import CUT_STATE, Galley, galley_entry

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

AUTO = {"cut": "auto", "idle_minutes": 10}
ASK = {"cut": "ask", "idle_minutes": 10}


async def started(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory, circuit: dict[str, Any]
) -> Galley:
    galley = Galley(hass, freezer, galley_entry(circuit))
    await galley.start()
    return galley


async def test_an_idle_circuit_is_cut_and_counted(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, AUTO)
    await galley.become_known()
    await galley.pass_time(120)
    assert [dict(call.data) for call in galley.relay_calls] == [{"entity_id": RELAY}]
    assert not galley.closed
    assert galley.log() == [
        ("refused", "resting_unknown"),
        ("cut", "rule"),
        ("verified", "22 W"),
    ]
    state = hass.states.get(CUT_STATE)
    assert state.attributes["event_type"] == "verified"
    assert state.attributes["fell_w"] == pytest.approx(22, abs=1)
    await galley.pass_time(3600, 60)
    await galley.restart()
    saved_kwh = float(hass.states.get("sensor.galley_1_standby_saved").state)
    assert saved_kwh == pytest.approx(0.022, rel=0.1)
    total = float(hass.states.get("sensor.kittiwake_standby_saved").state)
    assert total == pytest.approx(saved_kwh)
