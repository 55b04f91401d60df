"""A sensor that is read the wrong way round: told by a repair, and turned by its fix."""

from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
from homeassistant.helpers import issue_registry as ir
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.galley_loads.boat.boat_entry import (
    boat_from_entry,
    mapping_from_entry,
)
from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.core.engine import Engine
from custom_components.galley_loads.core.metering.reading import Reading
from tests.at_home import (
    CURRENT,
    KITTIWAKE,
    LOAD,
    SOC,
    SOLAR,
    VOLTAGE,
    boat_at_rest,
    later,
)
from tests.issue_steps import Fixer, issues

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

QUARTER = 900.0
DISCHARGING = {
    **KITTIWAKE,
    "sensors": {**KITTIWAKE["sensors"], "battery_power_positive": "discharging"},
}


class Anchored:
    """A boat that lies at anchor after sunset, and boils its kettle every half hour."""

    def __init__(self, hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> None:
        """Begin in the evening."""
        self.hass, self.freezer = hass, freezer
        self.entry: MockConfigEntry
        freezer.move_to("2026-05-11T22:00:00+00:00")

    async def begin(self, mapping: dict[str, Any] = KITTIWAKE) -> MockConfigEntry:
        """Set the boat up."""
        self.entry = await boat_at_rest(self.hass, mapping)
        return self.entry

    async def boil(
        self,
        *,
        load_sign: int = 1,
        bank_sign: int = -1,
        hours: int = 3,
        soc_per_hour: float = 0.0,
    ) -> None:
        """Let hours pass with these signs, then look whether all makes sense."""
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

        await self.entry.runtime_data.coordinator.async_with_engine(live_through)
        self.freezer.tick(hours * 3600.0)
        await later(self.hass, self.freezer, 901)

    def notices(self) -> dict[str, ir.IssueEntry]:
        """Return what is said of the boat, by its kind."""
        return issues(ir.async_get(self.hass))


@pytest.fixture
def boat(hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> Anchored:
    """A boat in the evening, which is not set up yet."""
    return Anchored(hass, freezer)


async def test_a_boat_that_makes_sense_has_no_notice(
    hass: HomeAssistant, boat: Anchored
) -> None:
    await boat.begin()
    await boat.boil()
    assert not boat.notices()


@pytest.mark.parametrize(
    ("mapping", "bank_sign", "before", "after"),
    [
        (KITTIWAKE, 1, "charging", "discharging"),
        (DISCHARGING, -1, "discharging", "charging"),
    ],
)
async def test_a_turned_bank_is_told_with_the_evidence_and_turned_by_the_fix(
    hass: HomeAssistant,
    boat: Anchored,
    fixer: Fixer,
    mapping: dict[str, Any],
    bank_sign: int,
    before: str,
    after: str,
) -> None:
    entry = await boat.begin(mapping)
    await boat.boil(bank_sign=bank_sign)
    issue = boat.notices()["wrong_sign_bank"]
    assert issue.translation_placeholders == {
        "boat": "Kittiwake",
        "sensors": f"the battery's current meter ({CURRENT})",
    }
    assert issue.is_fixable

    counted = dict(entry.runtime_data.coordinator.counters)
    result = await fixer.fix(issue)
    said = result["description_placeholders"]
    assert (said["before"], said["after"]) == (before, after)
    assert "When a load was switched on the bank's 'charge' went up" in said["evidence"]
    result = await fixer.fix(issue, {})
    assert result["type"] == "create_entry"
    assert boat_from_entry(entry).sensors.battery_sign == (
        1 if after == "charging" else -1
    )
    assert not boat.notices()
    # The counters go on where they were.
    now = entry.runtime_data.coordinator.counters
    assert counted
    assert all(now[key] >= value for key, value in counted.items())

    # And now all makes sense.
    await boat.boil(bank_sign=bank_sign)
    assert not boat.notices()


async def test_a_notice_is_there_as_soon_as_the_boat_is_back(
    hass: HomeAssistant, boat: Anchored
) -> None:
    entry = await boat.begin()
    await boat.boil(bank_sign=1)
    issue = boat.notices()["wrong_sign_bank"]
    # Notices do not outlive the platform.
    assert await hass.config_entries.async_unload(entry.entry_id)
    ir.async_delete_issue(hass, DOMAIN, issue.issue_id)
    assert await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    await later(hass, boat.freezer, 20)
    assert set(boat.notices()) == {"wrong_sign_bank"}


async def test_a_meter_that_counts_backwards_is_told_and_turned_by_the_fix(
    hass: HomeAssistant, boat: Anchored, fixer: Fixer
) -> None:
    entry = await boat.begin()
    await boat.boil(load_sign=-1)
    issue = boat.notices()["wrong_sign_meter"]
    assert issue.translation_placeholders == {
        "boat": "Kittiwake",
        "sensors": f"the AC load meter ({LOAD})",
    }
    result = await fixer.fix(issue)
    assert "down to -1,500 W" in result["description_placeholders"]["evidence"]
    await fixer.fix(issue, {})
    turned = {"entity": LOAD, "reversed": True}
    assert mapping_from_entry(entry)["sensors"]["ac_load_power"] == turned
    assert not boat.notices()
    await boat.boil(load_sign=-1)
    assert not boat.notices()

    # Once its own integration turns it too, it is turned back the same way.
    await boat.boil(load_sign=1, hours=16)
    issue = boat.notices()["wrong_sign_meter"]
    await fixer.fix(issue, {})
    assert mapping_from_entry(entry)["sensors"]["ac_load_power"] == LOAD
    assert not boat.notices()


async def test_a_notice_goes_once_the_sensor_itself_was_mended(
    hass: HomeAssistant, boat: Anchored
) -> None:
    await boat.begin()
    await boat.boil(load_sign=-1, bank_sign=1, hours=5)
    assert set(boat.notices()) == {"wrong_sign_bank", "wrong_sign_meter"}
    await boat.boil(hours=16)
    assert not boat.notices()


async def test_a_removed_boat_takes_its_notice_along(
    hass: HomeAssistant, boat: Anchored, fixer: Fixer
) -> None:
    entry = await boat.begin()
    await boat.boil(bank_sign=1)
    issue = boat.notices()["wrong_sign_bank"]
    await hass.config_entries.async_remove(entry.entry_id)
    assert not boat.notices()
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
    assert (await fixer.fix(issue))["type"] == "create_entry"


async def test_several_witnesses_are_shown_as_a_list(
    hass: HomeAssistant, boat: Anchored, fixer: Fixer
) -> None:
    await boat.begin()
    # A gauge that falls while the bank is 'charged' is a witness of its own.
    await boat.boil(bank_sign=1, hours=5, soc_per_hour=-8.0)
    issue = boat.notices()["wrong_sign_bank"]
    result = await fixer.fix(issue)
    lines = result["description_placeholders"]["evidence"].splitlines()
    assert len(lines) > 1
    assert all(line.startswith("* ") and line.endswith(".") for line in lines)
