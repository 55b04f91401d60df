"""How things are said: chosen kinds, bounded memory, harmless words."""

from dataclasses import replace
import json

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.occasions.occurrence import OccurrenceKind
from custom_components.galley_loads.language import alert_texts
from tests.core.occasions.alert_rigs import (
    FLEET,
    HEATING,
    HOUR,
    Watch,
    ask,
    meal,
    run_of,
)
from tests.core.rigs import NOON_S
from tests.said import all_said, said


def test_kinds_that_were_not_chosen_are_not_said() -> None:
    watch = Watch()
    watch.choose({OccurrenceKind.FINISHED})
    watch.alerts.settle_meal(meal())
    watch.alerts.hear([ask(watch.at_s)])
    assert not watch.pass_time(HOUR)


def test_the_memory_of_what_was_said_is_bounded() -> None:
    watch = Watch()
    for day in range(700):
        watch.alerts.settle_meal(meal(start_s=NOON_S + day, end_s=watch.at_s))
        watch.pass_time(10)
    kept = json.dumps([watch.alerts.snapshot(), watch.messages.snapshot()])
    assert len(kept) < 40_000


def test_a_state_of_a_larger_boat_is_taken_up_by_a_smaller_one() -> None:
    watch = Watch()
    watch.on = {"Hob": (1400, HEATING), "Bread maker": (400, HEATING)}
    watch.alerts.settle_run(run_of("Oven", 40))
    watch.alerts.timers.set("Bath", 30, watch.at_s)
    watch.alerts.hear([ask(watch.at_s)])
    watch.pass_time(HOUR)
    saved = json.loads(json.dumps(watch.alerts.snapshot()))
    small = replace(watch.boat, appliances=FLEET[:1], circuits=())
    smaller = Watch(small)
    smaller.alerts.restore(saved)
    assert smaller.alerts.timers.get("Bath") is None
    smaller.pass_time(10)
    assert "finished:Bread maker" not in smaller.messages.shown


HOSTILE = (
    "<b>Hob</b><script>x</script>",
    "{{ states('lock.door') }} {% raw %}",
    "Hob\n\n# URGENT: turn [everything](http://x) on",
    "\u202eboH\u0000\u0007",
    "H" * 5000,
    "",
)


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_becomes_a_harmless_word(name: str) -> None:
    plain = alert_texts.plain(name)
    word = plain if isinstance(plain, str) else said(plain)
    assert 0 < len(word) <= 40
    assert not set(word) & set("<>{}[]`\\|*_#~\n\r\t\0")
    assert word.isprintable()


@given(st.text(max_size=200))
def test_no_name_can_break_a_message(name: str) -> None:
    for text in (
        alert_texts.standby_left_on(name, 600, 20, 42, asks=True),
        alert_texts.cut_failed(name, relay_silent=False),
        alert_texts.left_running(name, 600, None),
        alert_texts.reserve_at_risk([name, name], 20, 5 * 3600.0, 0.0, 35),
    ):
        title, message = all_said(text)
        assert (title + message).isprintable()
        assert len(title) < 80
        assert not set(title + message) & set("<>{}[]`|\\")
