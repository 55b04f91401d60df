"""When the outlook is renewed, and that the event loop does not wait for it."""

from datetime import datetime
from itertools import pairwise
import threading
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.galley_loads.advice import advice_runner
from custom_components.galley_loads.advice.advice_runner import SHORTEST_PAUSE_S
from tests.advised import ask, lying_at_anchor, plan
from tests.galley_day import GalleyDay

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


async def test_advice_never_works_in_the_event_loop(
    hass: HomeAssistant, day: GalleyDay, monkeypatch: pytest.MonkeyPatch
) -> None:
    threads: set[int] = set()

    def watched(name: str) -> Any:
        original = getattr(advice_runner, name)

        def call(*args: Any, **kwargs: Any) -> Any:
            threads.add(threading.get_ident())
            return original(*args, **kwargs)

        return call

    for name in ("advise", "day_ahead"):
        monkeypatch.setattr(advice_runner, name, watched(name))
    await lying_at_anchor(hass, day)
    await plan(hass, "Bread")
    await ask(hass, "advise", dish="Bread")
    assert threads
    assert threading.get_ident() not in threads


def runs_of(entry: MockConfigEntry) -> list[datetime]:
    """Return a list that fills with the times at which there is a new outlook."""
    times: list[datetime] = []
    entry.runtime_data.advice.async_listen(lambda: times.append(dt_util.utcnow()))
    return times


async def test_the_outlook_is_renewed_on_the_quarter_hour(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = await lying_at_anchor(hass, day)
    times = runs_of(entry)
    await day.live(3600, step_s=30)
    assert [(at.minute, at.second < 60) for at in times] == [
        (minute, True) for minute in (15, 30, 45, 0)
    ]


async def test_a_sun_that_goes_another_way_is_answered_before_the_quarter(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = await lying_at_anchor(hass, day)
    await day.live(360)
    times = runs_of(entry)
    # A bank that loses five percent in a moment is not what was expected.
    await day.live(300, soc=72.0)
    assert len(times) == 1
    assert times[0].minute not in (0, 15, 30, 45)


async def test_departures_do_not_keep_the_board_busy(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = await lying_at_anchor(hass, day)
    times = runs_of(entry)
    for soc in range(79, 60, -1):
        await day.live(60, soc=float(soc), step_s=20)
    assert times
    gaps = [
        (b - a).total_seconds()
        for a, b in pairwise(times)
        if b.minute not in (0, 15, 30, 45)
    ]
    assert all(gap >= SHORTEST_PAUSE_S for gap in gaps)
