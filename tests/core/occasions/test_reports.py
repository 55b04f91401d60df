"""Events and messages are of the same occurrences: neither contradicts the other."""

from dataclasses import replace

from hypothesis import given, settings

from custom_components.galley_loads.core.cutting import QuestionOver
from custom_components.galley_loads.core.live.live_view import LiveView
from custom_components.galley_loads.core.occasions.event_filter import (
    EVENT_KINDS,
    EventFilter,
    event_of_occurrence,
)
from custom_components.galley_loads.core.occasions.facts import Facts
from custom_components.galley_loads.core.occasions.message_filter import (
    MessageFilter,
    Say,
)
from custom_components.galley_loads.core.occasions.night import NightOutlook
from custom_components.galley_loads.core.occasions.occurrence import OccurrenceKind
from custom_components.galley_loads.core.occasions.occurrence_watch import (
    OccurrenceWatch,
)
from custom_components.galley_loads.core.occasions.reports import Reports
from tests.core.occasions.alert_rigs import HOUR, MINUTE, Watch, ask
from tests.core.occasions.test_event_filter import afternoons, boat
from tests.core.rigs import NOON_S


@given(afternoons())
@settings(max_examples=30)
def test_what_a_person_reads_automations_have_heard_with_the_same_numbers(
    views: list[LiveView],
) -> None:
    watch, events = OccurrenceWatch(boat()), EventFilter()
    messages = MessageFilter(boat().time_zone)
    night = NightOutlook(NOON_S, 28.0, NOON_S + 10 * HOUR, 0.8)
    known: set[str] = set()
    for view in views:
        facts = Facts(
            view.at_s,
            view,
            90.0,
            night,
            idle_since_s={"Galley 1": NOON_S},
            standby_w={"Galley 1": 20.0},
            relay_closed={"Galley 1": True},
        )
        occurrences = watch.observe(facts)
        if not known and view is views[0]:
            known |= {one.identity for one in occurrences}
        heard = events.observe(view.at_s, occurrences)
        for event in heard:
            (cause,) = [
                one
                for one in occurrences
                if (one.kind, one.subject) == (event.kind, event.subject)
            ]
            known.add(cause.identity)
            assert event == event_of_occurrence(cause, view.at_s)
        for message in messages.observe(view.at_s, occurrences):
            if isinstance(message, Say) and message.kind in EVENT_KINDS:
                assert message.occurrence in occurrences
                assert message.occurrence.identity in known


def test_a_relay_boat_that_asks_gives_the_event_as_well_as_the_message() -> None:
    watch = Watch()
    reports = Reports(watch.boat)
    idle_since_s = watch.at_s
    heard, said = [], []
    for minute in range(30):
        watch.at_s = idle_since_s + minute * MINUTE
        facts = replace(
            watch.facts(),
            idle_since_s={"Galley 1": idle_since_s},
            standby_w={"Galley 1": 20.0},
            relay_closed={"Galley 1": True},
        )
        if minute == 12:
            reports.watch.hear([ask(watch.at_s)])
        events, messages = reports.observe(facts)
        heard += events
        said += [one for one in messages if isinstance(one, Say)]
    (event,), (say,) = heard, said
    assert event.kind is say.kind is OccurrenceKind.STANDBY_LEFT_ON
    assert event.subject == say.subject == "Galley 1"
    assert event.details["standby_w"] == say.occurrence.number("standby_w") == 20.0
    assert say.token == "t1"
    reports.watch.hear([QuestionOver("Galley 1", watch.at_s, "t1")])
    assert reports.shown
