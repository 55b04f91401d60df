"""The energies of the past as long-term statistics, hung on behind the platform's own."""

from datetime import timedelta
import time

from homeassistant.components.recorder.models import (
    StatisticData,
    StatisticMeanType,
    StatisticMetaData,
)
from homeassistant.components.recorder.statistics import async_import_statistics
from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util
import pytest

from tests.at_home import boat_entry, start_boat
from tests.dinner import DINNER_WH, HOUR
from tests.recorded_dinners import GALLEY, KETTLE, OVEN, act, hourly, meals, two_dinners
from tests.recorded_past import record

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


async def test_counters_do_not_count_the_past_and_statistics_show_it(
    hass: HomeAssistant,
) -> None:
    await record(hass, two_dinners())
    await start_boat(hass, boat_entry())
    assert float(hass.states.get(GALLEY).state) == 0
    for entity_id, expected_wh in (
        (KETTLE, 2 * 1500 * 4 / 60),
        (OVEN, 2 * 2000 * 20 / 60),
        (GALLEY, 2 * DINNER_WH),
    ):
        rows = await hourly(hass, entity_id)
        # The dinner of each day, hour by hour, and nothing between.
        assert sum(row["change"] for row in rows[1:]) == pytest.approx(
            expected_wh / 1000, rel=0.03
        )
        assert rows[-1]["sum"] == pytest.approx(0.0)
        hours = [row["start"] for row in rows]
        assert hours == [hours[0] + HOUR * n for n in range(len(hours))]
        # Nothing was there to be shown; the platform's first row is to come.
        assert all(row["state"] is None for row in rows)
        assert hours[-1] == time.time() // HOUR * HOUR - HOUR


async def test_the_first_day_of_the_past_shows_no_loss(hass: HomeAssistant) -> None:
    """Before the first row the platform takes a sum for zero, and these are below it."""
    await record(hass, two_dinners())
    await start_boat(hass, boat_entry())
    changes = [row["change"] for row in await hourly(hass, GALLEY)]
    assert min(changes) >= 0
    assert sum(changes) == pytest.approx(2 * DINNER_WH / 1000, rel=0.03)


async def test_reading_the_past_again_changes_nothing(hass: HomeAssistant) -> None:
    await record(hass, two_dinners())
    await start_boat(hass, boat_entry())
    before = await meals(hass)
    rows = await hourly(hass, GALLEY)
    await act(hass, "backfill")
    assert await meals(hass) == before
    assert await hourly(hass, GALLEY) == rows
    assert float(hass.states.get(GALLEY).state) == 0


async def test_what_the_platform_wrote_itself_is_not_touched(
    hass: HomeAssistant,
) -> None:
    await record(hass, two_dinners())
    await start_boat(hass, boat_entry())
    now = dt_util.utcnow().replace(minute=0, second=0, microsecond=0)
    metadata = StatisticMetaData(
        mean_type=StatisticMeanType.NONE,
        has_sum=True,
        name=None,
        source="recorder",
        statistic_id=GALLEY,
        unit_class="energy",
        unit_of_measurement="kWh",
    )
    live = [
        # Somebody has corrected the sum by half a kilowatt-hour.
        StatisticData(start=now, state=0.25, sum=0.75),
        StatisticData(start=now + timedelta(hours=1), state=0.4, sum=0.9),
    ]
    async_import_statistics(hass, metadata, live)
    before = await hourly(hass, GALLEY)
    await act(hass, "backfill")
    after = await hourly(hass, GALLEY)
    assert [(r["state"], r["sum"]) for r in after[-2:]] == [(0.25, 0.75), (0.4, 0.9)]
    # The past leads up to where the counter's zero is now.
    assert after[-3]["sum"] == pytest.approx(0.5)
    assert [row["start"] for row in after] == [row["start"] for row in before]
    assert after[-2]["change"] == pytest.approx(0.25)


async def test_statistics_of_a_boat_that_was_deleted_stay_as_they_are(
    hass: HomeAssistant,
) -> None:
    await record(hass, two_dinners())
    now = dt_util.utcnow().replace(minute=0, second=0, microsecond=0)
    metadata = StatisticMetaData(
        mean_type=StatisticMeanType.NONE,
        has_sum=True,
        name=None,
        source="recorder",
        statistic_id=GALLEY,
        unit_class="energy",
        unit_of_measurement="kWh",
    )
    older = [
        # The old boat's past was imported, too; then it counted both dinners itself.
        StatisticData(start=now - timedelta(days=20), sum=-2.0),
        StatisticData(start=now - timedelta(days=15), state=0.0, sum=0.0),
        StatisticData(start=now - timedelta(days=2), state=8.0, sum=8.0),
        StatisticData(start=now - timedelta(hours=3), state=9.5, sum=9.5),
    ]
    async_import_statistics(hass, metadata, older)
    before = await hourly(hass, GALLEY)
    assert len(before) == 4
    await start_boat(hass, boat_entry())
    assert len(await meals(hass)) == 2
    assert await hourly(hass, GALLEY) == before
    # A counter that the old boat did not have gets its past.
    assert await hourly(hass, KETTLE)
