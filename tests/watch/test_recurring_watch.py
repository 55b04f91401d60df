"""Discovery: what recurs unnamed is offered as a repair, and its fix adds the appliance."""

from typing import Any

from homeassistant.components.repairs import DOMAIN as REPAIRS_DOMAIN
from homeassistant.core import HomeAssistant
from homeassistant.helpers import issue_registry as ir
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.core.engine import Engine
from custom_components.galley_loads.core.inference.learning.recurring_loads import (
    RecurringLoad,
)
from custom_components.galley_loads.core.inference.model.activity import Segment
from custom_components.galley_loads.watch.recurring_watch import (
    issue_id,
    worth_offering,
)
from tests.at_home import boat_entry, later, start_boat
from tests.galley_day import GalleyDay
from tests.issue_steps import Fixer

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

DAY_S = 86_400.0


def notices(hass: HomeAssistant) -> list[ir.IssueEntry]:
    return [
        issue
        for (domain, name), issue in ir.async_get(hass).issues.items()
        if domain == DOMAIN and name.startswith("recurring_load")
    ]


async def mornings(
    entry: MockConfigEntry, count: int, power_w: float = 1180.0, seconds: float = 180.0
) -> None:
    """Let something unnamed have run on so many mornings up to now."""
    now_s = dt_util.utcnow().timestamp()

    def run(engine: Engine) -> None:
        for days in range(count, 0, -1):
            start_s = now_s - days * DAY_S - 4 * 3600.0
            engine.discovery.add(Segment(start_s, start_s + seconds, (), power_w))
            engine.discovery.add(Segment(start_s + seconds, start_s + 3600.0))

    await entry.runtime_data.coordinator.async_with_engine(run)


async def an_hour_later(hass: HomeAssistant, day: GalleyDay) -> None:
    await later(hass, day.freezer, 3601)


async def lies(hass: HomeAssistant, day: GalleyDay) -> MockConfigEntry:
    assert await async_setup_component(hass, REPAIRS_DOMAIN, {})
    entry = await start_boat(hass, boat_entry())
    await day.live(60)
    return entry


async def test_what_comes_every_morning_is_offered_in_words(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = await lies(hass, day)
    await mornings(entry, 9)
    assert notices(hass) == []
    await an_hour_later(hass, day)
    (notice,) = notices(hass)
    assert notice.is_fixable
    assert notice.translation_placeholders == {
        "boat": "Kittiwake",
        "load": "about 1,180 W for 3 minutes, on 9 mornings",
    }
    await an_hour_later(hass, day)
    assert len(notices(hass)) == 1


async def test_what_came_a_few_times_is_not(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = await lies(hass, day)
    await mornings(entry, 4)
    await an_hour_later(hass, day)
    assert notices(hass) == []


async def test_the_fix_adds_the_appliance(
    hass: HomeAssistant, day: GalleyDay, fixer: Fixer
) -> None:
    entry = await lies(hass, day)
    await mornings(entry, 9)
    await an_hour_later(hass, day)
    (notice,) = notices(hass)
    form = await fixer.fix(notice)
    assert form["step_id"] == "appliance"
    assert form["description_placeholders"]["load"].startswith("about 1,180 W")
    fields = {field["name"]: field for field in form["data_schema"]}
    assert fields["rated_power"]["description"]["suggested_value"] == 1180
    assert "circuit" in fields
    # What is wrong is told at the field, and can be put right.
    maker = {"name": "Coffee maker", "kind": "coffee_maker", "rated_power": 1200}
    again = await fixer.fix(notice, {**maker, "name": "Oven"})
    assert again["errors"] == {"name": "duplicate"}
    done = await fixer.fix(notice, {**maker, "name": "Oven"}, maker)
    assert done["type"] == "create_entry"
    added = [s for s in entry.subentries.values() if s.title == "Coffee maker"]
    assert [dict(one.data) for one in added] == [
        {"kind": "coffee_maker", "rated_power": 1200}
    ]
    assert notices(hass) == []
    assert hass.states.get("sensor.coffee_maker_state") is not None
    # What it did before it had a name is not offered again.
    await an_hour_later(hass, day)
    assert notices(hass) == []


async def test_what_does_not_come_any_more_is_taken_back(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = await lies(hass, day)
    await mornings(entry, 9)
    await an_hour_later(hass, day)
    assert len(notices(hass)) == 1
    day.freezer.tick(31 * DAY_S)
    await an_hour_later(hass, day)
    assert notices(hass) == []


async def test_a_removed_boat_takes_its_notices_along(
    hass: HomeAssistant, day: GalleyDay, fixer: Fixer
) -> None:
    entry = await lies(hass, day)
    await mornings(entry, 9)
    await an_hour_later(hass, day)
    (notice,) = notices(hass)
    await hass.config_entries.async_remove(entry.entry_id)
    assert notices(hass) == []
    # A fix that was begun too late finds nothing to do.
    ir.async_create_issue(
        hass,
        DOMAIN,
        notice.issue_id,
        is_fixable=True,
        severity=ir.IssueSeverity.WARNING,
        translation_key="recurring_load",
        data={
            "entry_id": entry.entry_id,
            "load": "x",
            "power_w": 1.0,
            "duration_s": 60.0,
        },
    )
    (left,) = notices(hass)
    assert (await fixer.fix(left))["type"] == "create_entry"


def load(power_w: float = 1180.0, **changes: Any) -> RecurringLoad:
    plain: dict[str, Any] = {
        "power_w": power_w,
        "duration_s": 180.0,
        "count": 9,
        "days": 9,
        "part_of_day": None,
        "last_s": 0.0,
    }
    return RecurringLoad(**{**plain, **changes})


def test_only_what_costs_something_and_still_comes_is_worth_it() -> None:
    now_s = 10 * DAY_S
    assert worth_offering((load(),), now_s)
    assert not worth_offering((load(count=4),), now_s)
    assert not worth_offering((load(power_w=60.0),), now_s)
    assert not worth_offering((load(),), 31 * DAY_S)


def test_at_most_three_at_once_the_dearest_first() -> None:
    loads = tuple(load(power_w=1000.0 + 400.0 * i) for i in range(5))
    assert worth_offering(loads, 0.0) == [loads[4], loads[3], loads[2]]


def test_a_notice_keeps_its_name_while_the_mean_drifts() -> None:
    names = {issue_id("boat", load(power_w=power)) for power in range(1100, 1180, 10)}
    assert len(names) <= 2
    assert issue_id("boat", load()) != issue_id("boat", load(power_w=1800.0))
    assert issue_id("boat", load()) != issue_id("boat", load(duration_s=3000.0))
    assert issue_id("boat", load()) != issue_id("other", load())
