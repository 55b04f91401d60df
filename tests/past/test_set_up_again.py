"""A boat that is deleted and set up again: what starts from zero, and what goes on."""

from datetime import timedelta
from typing import Any

from homeassistant.components.recorder.statistics import statistics_during_period
from homeassistant.core import HomeAssistant
from homeassistant.helpers.recorder import get_instance
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_wait_recording_done,
    do_adhoc_statistics,
)

from tests.at_home import boat_entry, start_boat, subentry_id
from tests.cooking import ENERGIES, DinnerAboard, energy_wh
from tests.recorded_dinners import GALLEY, act, meals

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


async def compiled(hass: HomeAssistant, entity_id: str = GALLEY) -> list[float]:
    """Have the platform compile its statistics now; return all sums so far, in kWh."""
    await async_wait_recording_done(hass)
    now = dt_util.utcnow()
    period = now.replace(minute=now.minute // 5 * 5, second=0, microsecond=0)
    do_adhoc_statistics(hass, start=period)
    await async_wait_recording_done(hass)
    found: dict[str, list[Any]] = await get_instance(hass).async_add_executor_job(
        statistics_during_period,
        hass,
        now - timedelta(days=30),
        None,
        {entity_id},
        "5minute",
        None,
        {"sum"},
    )
    return [row["sum"] for row in found.get(entity_id, [])]


async def test_a_boat_set_up_again_starts_from_zero_and_finds_its_meals(
    hass: HomeAssistant, dinner: DinnerAboard
) -> None:
    entry = await dinner.begin()
    assert await compiled(hass) == [0.0]
    await dinner.cook(960)
    await dinner.rest(960, 5400)
    assert energy_wh(hass, GALLEY) == pytest.approx(100, abs=5)
    taken_kwh = energy_wh(hass, GALLEY) / 1000
    (kettle,) = await meals(hass)
    await act(hass, "label_meal", meal=kettle["id"], label="Birthday tea")
    assert await compiled(hass) == [0.0, pytest.approx(taken_kwh)]
    began = hass.states.get(GALLEY).attributes["last_reset"]

    await hass.config_entries.async_remove(entry.entry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    assert hass.states.get(GALLEY) is None
    await dinner.tick(600)
    again = await start_boat(hass, boat_entry())
    assert [energy_wh(hass, one) for one in ENERGIES] == [0.0, 0.0, 0.0]
    assert hass.states.get(GALLEY).attributes["last_reset"] > began

    # The meal is found in what the recorder kept; the label is gone with the old book.
    (found,) = await meals(hass)
    assert (found["start"], found["end"]) == (kettle["start"], kettle["end"])
    assert found["energy_wh"] == pytest.approx(kettle["energy_wh"], abs=1)
    assert (found["label"], found["origin"]) == (kettle["label"], "history")

    # The statistics go on where they were: no loss, and the past not once more.
    await dinner.rest(7200, 240)
    sums = await compiled(hass)
    assert sums == [0.0, *[pytest.approx(taken_kwh)] * (len(sums) - 1)]
    assert len(sums) >= 3

    # After a reload it is still the same counter.
    await hass.config_entries.async_reload(again.entry_id)
    await dinner.rest(7560, 240)
    assert (await compiled(hass))[-1] == pytest.approx(taken_kwh)


async def test_an_appliance_that_is_added_again_counts_from_zero(
    hass: HomeAssistant, dinner: DinnerAboard
) -> None:
    entry = await dinner.begin()
    await dinner.cook(960)
    await dinner.rest(960, 5400)
    assert energy_wh(hass, "sensor.kettle_energy") == pytest.approx(100, abs=5)
    kettle = entry.subentries[subentry_id(entry, "Kettle")]
    hass.config_entries.async_remove_subentry(entry, kettle.subentry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    assert hass.states.get("sensor.kettle_energy") is None
    parts = boat_entry().subentries.values()
    (again,) = [part for part in parts if part.title == "Kettle"]
    hass.config_entries.async_add_subentry(entry, again)
    await hass.async_block_till_done(wait_background_tasks=True)
    assert energy_wh(hass, "sensor.kettle_energy") == 0
