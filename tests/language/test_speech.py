"""Phrases become sentences, and survive being stored."""

import json

import pytest

from custom_components.galley_loads.core.phrase import Phrase, PhrasedError, phrase
from custom_components.galley_loads.language.plurals import plural_form
from custom_components.galley_loads.language.speech import english


def takes(times: int) -> Phrase:
    return phrase(
        "advice.cost_past_meals",
        dish="Stew {1}",
        energy_wh=420.0,
        dish_ah=36.4,
        times=times,
    )


def test_a_sentence_has_its_numbers_with_units_and_the_crews_own_names():
    assert english().say(takes(3)) == (
        "Stew {1} takes about 420 Wh, 36 Ah at the bank, as when it was cooked before "
        "(3 times)."
    )


def test_once_is_said_in_the_singular():
    assert english().say(takes(1)).endswith("cooked before (once).")


def test_french_counts_nothing_as_one_and_the_others_do_not():
    assert [plural_form(language, 0) for language in ("en", "de", "es", "fr")] == [
        "other",
        "other",
        "other",
        "one",
    ]


def test_a_phrase_may_stand_within_another_and_begin_the_sentence():
    sensor = phrase("sensor.with_id", sensor=phrase("sensor.soc"), entity_id="sensor.x")
    assert english().say(phrase("silent.silent", sensor=sensor, age_s=7200.0)) == (
        "The battery gauge (sensor.x) has been silent for 2 h."
    )


def test_a_list_may_hold_names_and_phrases():
    sensors = (
        phrase("sensor.soc"),
        phrase("sensor.solar"),
        phrase("sensor.relay", owner="A"),
    )
    assert english().say(phrase("sign.sensors", sensors=sensors)) == (
        "the battery gauge, the solar meter and the relay of A"
    )


def test_a_phrase_survives_being_stored():
    sensor = phrase("sensor.with_id", sensor=phrase("sensor.soc"), entity_id="sensor.x")
    for one in (
        takes(2),
        phrase("silent.silent", sensor=sensor, age_s=7200.0),
        phrase("sign.sensors", sensors=("Kettle", sensor)),
    ):
        stored = json.loads(json.dumps(one.as_plain()))
        assert Phrase.from_plain(stored) == one


def test_developers_read_key_and_values():
    error = PhrasedError(
        phrase("boat.at_field", field="bank", problem=phrase("boat.nothing"))
    )
    assert str(error) == "boat.at_field(field='bank', problem=boat.nothing)"


def test_a_value_that_is_no_number_is_not_written_as_one():
    with pytest.raises(TypeError, match="'soon' is no number"):
        english().say(phrase("missing.old", age_s="soon"))
