"""The answer in words, as a terminal shows it."""

from custom_components.galley_loads.core.advice import advise, request_dish
from custom_components.galley_loads.core.outlook.outlook import Outlook
from custom_components.galley_loads.language.advice_text import advice_text
from tests.core.advice.sandpiper import START_S, STEW, ask, at_charge, sandpiper


def test_the_answer_in_words_names_verdict_start_and_table():
    view = at_charge(sandpiper(7.0, uses=()), 37.0)
    answer = ask(view, STEW)
    text = advice_text(answer, view.boat.time_zone)
    assert text.startswith("Fish stew: wait until ")
    assert "keeps reserve" in text
    unknown = advise(Outlook(view.boat).view(), request_dish(view.boat, STEW), START_S)
    assert advice_text(unknown, view.boat.time_zone).startswith(
        "Fish stew: cannot tell"
    )
