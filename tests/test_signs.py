"""A sensor that is read the wrong way round: told by a repair, and turned by its fix."""

from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
from homeassistant.helpers import issue_registry as ir
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    MockUser,
    async_fire_time_changed,
)
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components.galley_loads.boat_entry import (
    boat_from_entry,
    mapping_from_entry,
)
from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.core.engine import Engine
from custom_components.galley_loads.core.readings import Reading

from .at_home import (
    CURRENT,
    KITTIWAKE,
    LOAD,
    SOC,
    SOLAR,
    VOLTAGE,
    boat_entry,
    set_sensors,
    start_boat,
)
from .test_discovery import fresh_token
from .test_repairs import fix, issues

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

QUARTER = 900.0
DISCHARGING = {
    **KITTIWAKE,
    "sensors": {**KITTIWAKE["sensors"], "battery_power_positive": "discharging"},
}


@pytest.fixture(autouse=True)
def sunset(freezer: FrozenDateTimeFactory) -> None:
    """Begin in the evening."""
    freezer.move_to("2026-05-11T22:00:00+00:00")


async def boil(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    entry: MockConfigEntry,
    *,
    load_sign: int = 1,
    bank_sign: int = -1,
    hours: int = 3,
    soc_per_hour: float = 0.0,
) -> None:
    """Let a kettle boil every half hour, then look whether all makes sense."""
    start_s = dt_util.utcnow().timestamp()
    readings: list[Reading] = []
    for step in range(hours * 360):
        at_s = start_s + 10.0 * step
        load_w = 1500.0 if at_s % 1800.0 < QUARTER else 100.0
        told = {
            LOAD: load_sign * load_w,
            CURRENT: bank_sign * load_w / 0.92 / 13.0,
            VOLTAGE: 13.0,
            SOLAR: 0.0,
            SOC: 80.0 + soc_per_hour * step / 360.0,
        }
        readings += [
            Reading(name, f"{value:.2f}", at_s) for name, value in told.items()
        ]

    def live_through(engine: Engine) -> None:
        engine.feed_all(readings, lambda _: None)

    await entry.runtime_data.async_with_engine(live_through)
    freezer.tick(hours * 3600.0)
    await look(hass, freezer)


async def look(hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> None:
    """Let the next look at the signs come."""
    freezer.tick(901)
    async_fire_time_changed(hass)
    await hass.async_block_till_done(wait_background_tasks=True)


async def lies(
    hass: HomeAssistant, mapping: dict[str, Any] = KITTIWAKE
) -> MockConfigEntry:
    set_sensors(hass)
    return await start_boat(hass, boat_entry(mapping))


async def test_a_boat_that_makes_sense_has_no_notice(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    issue_registry: ir.IssueRegistry,
) -> None:
    entry = await lies(hass)
    await boil(hass, freezer, entry)
    assert not issues(issue_registry)


@pytest.mark.parametrize(
    ("mapping", "bank_sign", "before", "after"),
    [
        (KITTIWAKE, 1, "charging", "discharging"),
        (DISCHARGING, -1, "discharging", "charging"),
    ],
)
async def test_a_turned_bank_is_told_with_the_evidence_and_turned_by_the_fix(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    hass_client: ClientSessionGenerator,
    hass_admin_user: MockUser,
    issue_registry: ir.IssueRegistry,
    mapping: dict[str, Any],
    bank_sign: int,
    before: str,
    after: str,
) -> None:
    entry = await lies(hass, mapping)
    await boil(hass, freezer, entry, bank_sign=bank_sign)
    issue = issues(issue_registry)["wrong_sign_bank"]
    assert issue.translation_placeholders == {
        "boat": "Kittiwake",
        "sensors": f"the battery's current meter ({CURRENT})",
    }
    assert issue.is_fixable

    counted = dict(entry.runtime_data.counters)
    client = ClientOf(hass, hass_client, hass_admin_user)
    result = await fix(hass, client, issue)
    said = result["description_placeholders"]
    assert (said["before"], said["after"]) == (before, after)
    assert "When a load was switched on the bank's 'charge' went up" in said["evidence"]
    result = await fix(hass, client, issue, {})
    assert result["type"] == "create_entry"
    assert boat_from_entry(entry).sensors.battery_sign == (
        1 if after == "charging" else -1
    )
    assert not issues(issue_registry)
    # The counters go on where they were.
    now = entry.runtime_data.counters
    assert counted
    assert all(now[key] >= value for key, value in counted.items())

    # And now all makes sense.
    await boil(hass, freezer, entry, bank_sign=bank_sign)
    assert not issues(issue_registry)


async def test_a_notice_is_there_as_soon_as_the_boat_is_back(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    issue_registry: ir.IssueRegistry,
) -> None:
    entry = await lies(hass)
    await boil(hass, freezer, entry, bank_sign=1)
    issue = issues(issue_registry)["wrong_sign_bank"]
    # Notices do not outlive the platform.
    assert await hass.config_entries.async_unload(entry.entry_id)
    ir.async_delete_issue(hass, DOMAIN, issue.issue_id)
    assert await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    freezer.tick(20)
    async_fire_time_changed(hass)
    await hass.async_block_till_done(wait_background_tasks=True)
    assert set(issues(issue_registry)) == {"wrong_sign_bank"}


class ClientOf:
    """Clients whose login has not run out: hours pass here."""

    def __init__(
        self, hass: HomeAssistant, client: ClientSessionGenerator, user: MockUser
    ) -> None:
        """Log this user in anew each time."""
        self._hass, self._client, self._user = hass, client, user

    async def __call__(self) -> Any:
        """Return a client."""
        return await self._client(fresh_token(self._hass, self._user))


async def test_a_meter_that_counts_backwards_is_told_and_turned_by_the_fix(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    hass_client: ClientSessionGenerator,
    hass_admin_user: MockUser,
    issue_registry: ir.IssueRegistry,
) -> None:
    entry = await lies(hass)
    await boil(hass, freezer, entry, load_sign=-1)
    issue = issues(issue_registry)["wrong_sign_meter"]
    assert issue.translation_placeholders == {
        "boat": "Kittiwake",
        "sensors": f"the AC load meter ({LOAD})",
    }
    client = ClientOf(hass, hass_client, hass_admin_user)
    result = await fix(hass, client, issue)
    assert "down to -1,500 W" in result["description_placeholders"]["evidence"]
    await fix(hass, client, issue, {})
    turned = {"entity": LOAD, "reversed": True}
    assert mapping_from_entry(entry)["sensors"]["ac_load_power"] == turned
    assert not issues(issue_registry)
    await boil(hass, freezer, entry, load_sign=-1)
    assert not issues(issue_registry)

    # Once its own integration turns it too, it is turned back the same way.
    await boil(hass, freezer, entry, load_sign=1, hours=16)
    issue = issues(issue_registry)["wrong_sign_meter"]
    await fix(hass, client, issue, {})
    assert mapping_from_entry(entry)["sensors"]["ac_load_power"] == LOAD
    assert not issues(issue_registry)


async def test_a_notice_goes_once_the_sensor_itself_was_mended(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    issue_registry: ir.IssueRegistry,
) -> None:
    entry = await lies(hass)
    await boil(hass, freezer, entry, load_sign=-1, bank_sign=1, hours=5)
    assert set(issues(issue_registry)) == {"wrong_sign_bank", "wrong_sign_meter"}
    await boil(hass, freezer, entry, hours=16)
    assert not issues(issue_registry)


async def test_a_removed_boat_takes_its_notice_along(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    hass_client: ClientSessionGenerator,
    hass_admin_user: MockUser,
    issue_registry: ir.IssueRegistry,
) -> None:
    entry = await lies(hass)
    await boil(hass, freezer, entry, bank_sign=1)
    issue = issues(issue_registry)["wrong_sign_bank"]
    await hass.config_entries.async_remove(entry.entry_id)
    assert not issues(issue_registry)
    # A fix that was begun too late finds nothing to do.
    ir.async_create_issue(
        hass,
        DOMAIN,
        issue.issue_id,
        data=issue.data,
        is_fixable=True,
        severity=ir.IssueSeverity.WARNING,
        translation_key="wrong_sign_bank",
    )
    client = ClientOf(hass, hass_client, hass_admin_user)
    assert (await fix(hass, client, issue))["type"] == "create_entry"


async def test_several_witnesses_are_shown_as_a_list(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    hass_client: ClientSessionGenerator,
    hass_admin_user: MockUser,
    issue_registry: ir.IssueRegistry,
) -> None:
    entry = await lies(hass)
    # A gauge that falls while the bank is 'charged' is a witness of its own.
    await boil(hass, freezer, entry, bank_sign=1, hours=5, soc_per_hour=-8.0)
    issue = issues(issue_registry)["wrong_sign_bank"]
    result = await fix(hass, ClientOf(hass, hass_client, hass_admin_user), issue)
    lines = result["description_placeholders"]["evidence"].splitlines()
    assert len(lines) > 1
    assert all(line.startswith("* ") and line.endswith(".") for line in lines)
