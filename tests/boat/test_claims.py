"""A relay and a load meter belong to one boat: in the forms, at start, and at every cut."""

from copy import deepcopy
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.components.recorder import Recorder
from homeassistant.config_entries import ConfigEntryDisabler, ConfigEntryState
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import issue_registry as ir
import pytest
import yaml

from tests.at_home import (
    CURRENT,
    KITTIWAKE,
    LOAD,
    OTHER_LOAD,
    RELAY,
    another_boat,
    boat_at_rest,
    boat_entry,
    later,
    settle,
    start_boat,
)
from tests.flow_steps import (
    add,
    answer,
    answer_part,
    begin,
    change,
    reconfigure,
    set_energy_preferences,
    suggested,
)
from tests.issue_steps import Fixer, issues
from tests.watched import AUTO, act, started

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

PLUG = "sensor.oven_plug"
BANK_POWER = "sensor.bank_power"
OTHER_RELAY = "input_boolean.other_breaker"


def galley_at(relay: str) -> list[dict[str, Any]]:
    """Return the circuits of a boat with that relay."""
    return [{"name": "Galley 1", "breaker_current": 15, "voltage": 120, "relay": relay}]


@pytest.fixture
def others(
    recorder_mock: Recorder, enable_custom_integrations: None, hass: HomeAssistant
) -> None:
    """What a second boat has of its own, and a plug."""
    watts = {"unit_of_measurement": "W"}
    hass.states.async_set(OTHER_LOAD, "300", watts)
    hass.states.async_set(PLUG, "0", watts)
    hass.states.async_set(OTHER_RELAY, "on")


def with_plug(mapping: dict[str, Any]) -> dict[str, Any]:
    """Return a boat file whose oven has a meter of its own."""
    changed = deepcopy(mapping)
    changed["appliances"][1]["power_sensor"] = PLUG
    return changed


@pytest.mark.usefixtures("others")
async def test_a_load_meter_of_another_boat_is_refused_in_the_form(
    hass: HomeAssistant,
) -> None:
    await boat_at_rest(hass)
    result = await begin(hass, "sensors")
    wanted = {"ac_load_power": OTHER_LOAD, "battery_current": CURRENT}
    voltage = {"battery_voltage": "sensor.bank_voltage"}
    result = await answer(hass, result, wanted | voltage)
    assert result["errors"] == {"battery_current": "claimed"}
    assert result["description_placeholders"]["problem"] == f"{CURRENT} (Kittiwake)"
    result = await answer(hass, result, {"ac_load_power": OTHER_LOAD} | voltage)
    assert result["step_id"] == "bank"


@pytest.mark.usefixtures("others")
async def test_a_boat_that_is_changed_cannot_take_anothers_meter(
    hass: HomeAssistant,
) -> None:
    await boat_at_rest(hass)
    second = await start_boat(hass, boat_entry(another_boat("Petrel")))
    result = await reconfigure(hass, second, "sensors")
    taken = {"ac_load_power": OTHER_LOAD, "dc_load_power": LOAD}
    result = await answer(hass, result, taken)
    assert result["errors"] == {"dc_load_power": "claimed"}
    result = await answer(hass, result, {"ac_load_power": OTHER_LOAD})
    assert result["type"] is FlowResultType.ABORT


@pytest.mark.usefixtures("others")
async def test_another_boats_relay_is_refused_for_a_circuit(
    hass: HomeAssistant,
) -> None:
    await boat_at_rest(hass)
    second = await start_boat(hass, boat_entry(another_boat("Petrel")))
    circuit = {"name": "Galley 2", "breaker_current": 15, "voltage": 120}
    result = await add(hass, second, "circuit", circuit | {"relay": RELAY})
    assert result["errors"] == {"relay": "claimed"}
    assert result["description_placeholders"]["problem"] == f"{RELAY} (Kittiwake)"
    result = await answer_part(hass, result, circuit | {"relay": OTHER_RELAY})
    assert result["type"] is FlowResultType.CREATE_ENTRY
    # And its own relay is no obstacle when the circuit is changed.
    result = await change(hass, second, "Galley 2")
    changed = circuit | {"relay": OTHER_RELAY, "breaker_current": 20}
    result = await answer_part(hass, result, changed)
    assert result["type"] is FlowResultType.ABORT


@pytest.mark.usefixtures("others")
async def test_another_boats_own_meter_is_refused_for_an_appliance(
    hass: HomeAssistant,
) -> None:
    await boat_at_rest(hass, with_plug(KITTIWAKE))
    second = await start_boat(hass, boat_entry(another_boat("Petrel")))
    for meter in (PLUG, LOAD):
        result = await add(
            hass,
            second,
            "appliance",
            {
                "name": "Toaster",
                "kind": "toaster",
                "rated_power": 900,
                "supply": "ac",
                "power_sensor": meter,
            },
        )
        assert result["errors"] == {"power_sensor": "claimed"}


@pytest.mark.usefixtures("others")
@pytest.mark.parametrize(
    ("changes", "entity_id"),
    [
        ({"circuits": galley_at(RELAY)}, RELAY),
        ({"appliances": with_plug(KITTIWAKE)["appliances"]}, PLUG),
        ({"sensors": {"ac_load_power": OTHER_LOAD, "dc_load_power": LOAD}}, LOAD),
    ],
)
async def test_a_boat_file_with_anothers_entity_is_refused(
    hass: HomeAssistant, changes: dict[str, Any], entity_id: str
) -> None:
    entry = await boat_at_rest(hass, with_plug(KITTIWAKE))
    text = yaml.safe_dump(another_boat("Petrel", **changes))
    result = await answer(hass, await begin(hass, "boat_file"), {"text": text})
    assert result["errors"] == {"base": "claimed"}
    problem = result["description_placeholders"]["problem"]
    assert problem == f"{entity_id} (Kittiwake)"

    # What is disabled may be enabled again; only what is deleted is free.
    disabled = ConfigEntryDisabler.USER
    await hass.config_entries.async_set_disabled_by(entry.entry_id, disabled)
    result = await answer(hass, result, {"text": text})
    assert result["errors"] == {"base": "claimed"}
    await hass.config_entries.async_remove(entry.entry_id)
    result = await answer(hass, result, {"text": text})
    assert result["type"] is FlowResultType.CREATE_ENTRY


@pytest.mark.usefixtures("others")
async def test_the_newer_boat_with_a_relay_twice_does_not_start(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    first = boat_entry()
    freezer.tick(60)
    second = boat_entry(another_boat("Petrel", circuits=galley_at(RELAY)))
    for entry in (second, first):
        entry.add_to_hass(hass)
    # The newer one is set up first: it is refused all the same.
    assert not await hass.config_entries.async_setup(second.entry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    assert second.state is ConfigEntryState.SETUP_ERROR
    assert second.error_reason_translation_key == "claimed"
    assert second.error_reason_translation_placeholders == {
        "boat": "Petrel",
        "entity_id": RELAY,
        "other_boat": "Kittiwake",
    }
    assert first.state is ConfigEntryState.LOADED

    # Without the older one it starts.
    await hass.config_entries.async_remove(first.entry_id)
    await hass.config_entries.async_reload(second.entry_id)
    assert second.state is ConfigEntryState.LOADED


@pytest.mark.usefixtures("others")
async def test_an_older_boat_that_is_enabled_again_does_not_oust_a_running_one(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    first = boat_entry()
    object.__setattr__(first, "disabled_by", ConfigEntryDisabler.USER)
    first.add_to_hass(hass)
    freezer.tick(60)
    shared = another_boat("Petrel", circuits=galley_at(RELAY))
    second = await start_boat(hass, boat_entry(shared))
    assert second.state is ConfigEntryState.LOADED
    await hass.config_entries.async_set_disabled_by(first.entry_id, None)
    assert first.state is ConfigEntryState.SETUP_ERROR
    assert second.state is ConfigEntryState.LOADED


async def test_a_relay_that_another_boat_names_is_never_opened(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, AUTO)
    hass.states.async_set(OTHER_LOAD, "300", {"unit_of_measurement": "W"})
    shared = another_boat("Petrel", circuits=galley_at(RELAY))
    second = boat_entry(shared)
    second.add_to_hass(hass)
    assert not await hass.config_entries.async_setup(second.entry_id)
    await galley.become_known()
    await galley.pass_time(600, 60)
    assert not galley.relay_calls
    assert galley.log()[-1] == ("refused", "shared_relay")
    own = galley.entry.entry_id
    with pytest.raises(ServiceValidationError) as refused:
        await act(hass, "cut_now", circuit="Galley 1", config_entry_id=own)
    assert refused.value.translation_key == "cut_shared_relay"

    await hass.config_entries.async_remove(second.entry_id)
    await galley.pass_time(120, 60)
    assert len(galley.relay_calls) == 1


async def test_a_lost_meter_is_not_replaced_by_another_boats(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    issue_registry: ir.IssueRegistry,
    fixer: Fixer,
) -> None:
    await boat_at_rest(hass)
    hass.states.async_set(OTHER_LOAD, "300", {"unit_of_measurement": "W"})
    second = await start_boat(hass, boat_entry(another_boat("Petrel")))
    hass.states.async_remove(OTHER_LOAD)
    for _ in range(7):
        await later(hass, freezer, 60)
    await settle(hass)
    issue = issues(issue_registry)["sensor_missing"]
    form = await fixer.fix(issue, {"replacement": LOAD})
    assert form["errors"] == {"replacement": "claimed"}
    assert form["description_placeholders"]["problem"] == f"{LOAD} (Kittiwake)"
    assert second.data["sensors"]["ac_load_power"] == OTHER_LOAD


@pytest.mark.usefixtures("others")
async def test_another_boats_meters_are_not_suggested(hass: HomeAssistant) -> None:
    await set_energy_preferences(
        hass,
        {
            "energy_sources": [
                {
                    "type": "battery",
                    "stat_energy_from": "sensor.e1",
                    "stat_energy_to": "sensor.e2",
                    "stat_rate": BANK_POWER,
                }
            ]
        },
    )
    hass.states.async_set(BANK_POWER, "-80", {"unit_of_measurement": "W"})
    assert suggested(await begin(hass, "sensors"))["battery_power"] == BANK_POWER
    sensors = {"ac_load_power": OTHER_LOAD, "battery_power": BANK_POWER}
    await start_boat(hass, boat_entry(another_boat("Petrel", sensors=sensors)))
    assert "battery_power" not in suggested(await begin(hass, "sensors"))
