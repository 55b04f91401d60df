"""A meal in bottled gas: the option, the sensor, the actions.

Grams are those of the lower heating value of propane, 46.35 MJ/kg (kadatec.cz property
table), and of an induction hob that brings 85 % into the pan (US EPA ENERGY STAR
Emerging Technology Award 2021-22), worked out here by hand.
"""

from typing import Any

from homeassistant.const import UnitOfMass
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType, InvalidData
import pytest

from custom_components.galley_loads.const import DOMAIN
from tests.at_home import boat_at_rest, boat_entry, start_boat
from tests.galley_day import GalleyDay

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

GAS = "sensor.kittiwake_last_meal_as_gas"


def grams(energy_wh: float, stove: float) -> float:
    return energy_wh * 3.6 * 0.85 / stove / 46.35


async def choose(hass: HomeAssistant, entry_id: str, **answers: Any) -> None:
    form = await hass.config_entries.options.async_init(entry_id)
    done = await hass.config_entries.options.async_configure(
        form["flow_id"], {"meal_gap_minutes": 30, **answers}
    )
    assert done["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done(wait_background_tasks=True)


async def listed(hass: HomeAssistant, action: str) -> dict[str, Any]:
    answer = await hass.services.async_call(
        DOMAIN, action, {}, blocking=True, return_response=True
    )
    assert isinstance(answer, dict)
    return answer


@pytest.mark.usefixtures("all_enabled")
async def test_a_meal_is_told_in_propane_with_the_boats_own_hob(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = await start_boat(hass, boat_entry())
    await day.live(300, step_s=60)
    assert hass.states.get(GAS).state == "unknown"
    await day.bake()
    await day.live(6000, 120, step_s=60)
    energy_wh = float(hass.states.get("sensor.kittiwake_last_meal_energy").state)
    assert energy_wh == pytest.approx(500, rel=0.02)
    shown = hass.states.get(GAS)
    assert float(shown.state) == pytest.approx(grams(energy_wh, 0.55), abs=0.1)
    assert shown.attributes["device_class"] == "weight"
    assert shown.attributes["unit_of_measurement"] == UnitOfMass.GRAMS
    (meal,) = (await listed(hass, "list_meals"))["meals"]
    assert meal["propane_g"] == pytest.approx(grams(energy_wh, 0.55), abs=0.1)

    await choose(hass, entry.entry_id, stove_efficiency=40)
    await day.live(60)
    assert float(hass.states.get(GAS).state) == pytest.approx(
        grams(energy_wh, 0.40), abs=0.1
    )
    (total,) = (await listed(hass, "sum_meals"))["sums"]
    assert total["propane_g"] == pytest.approx(grams(energy_wh, 0.40), abs=0.1)


async def test_an_efficiency_that_is_cleared_is_the_usual_one_again(
    hass: HomeAssistant,
) -> None:
    entry = await boat_at_rest(hass)
    await choose(hass, entry.entry_id, stove_efficiency=40)
    assert entry.options["stove_efficiency"] == 40
    await choose(hass, entry.entry_id)
    assert "stove_efficiency" not in entry.options


@pytest.mark.parametrize("percent", [29, 66])
async def test_an_efficiency_that_was_never_measured_is_refused(
    hass: HomeAssistant, percent: float
) -> None:
    entry = await boat_at_rest(hass)
    with pytest.raises(InvalidData) as refused:
        await choose(hass, entry.entry_id, stove_efficiency=percent)
    assert "stove_efficiency" in refused.value.schema_errors
    assert "stove_efficiency" not in entry.options
