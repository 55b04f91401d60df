"""The file that tells how far the past was read, when it is old or broken."""

from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util
import pytest

from custom_components.galley_loads.boat.boat_entry import mapping_from_entry
from custom_components.galley_loads.const import DOMAIN
from tests.at_home import boat_entry, start_boat
from tests.recorded_dinners import meals, two_dinners
from tests.recorded_past import record

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


async def test_a_saved_past_that_cannot_be_read_begins_anew(
    hass: HomeAssistant, hass_storage: dict[str, Any]
) -> None:
    await record(hass, two_dinners())
    entry = boat_entry()
    started = dt_util.utcnow().timestamp()
    parts = ("sensors", "bank", "inverter", "appliances", "circuits")
    mapping = mapping_from_entry(entry)
    hass_storage[f"{DOMAIN}.{entry.entry_id}.history"] = {
        "version": 1,
        "minor_version": 1,
        "key": f"{DOMAIN}.{entry.entry_id}.history",
        "data": {
            "first_start_s": started,
            "live_from_s": {},
            "counts_from_s": {},
            "boat": None,
            "run": {
                "boat": {key: mapping[key] for key in parts},
                "past": {"engine": {"version": -1}, "from_s": 0},
            },
        },
    }
    await start_boat(hass, entry)
    assert len(await meals(hass)) == 2
