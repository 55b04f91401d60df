"""Boat files: YAML that people write by hand."""

from dataclasses import replace
from datetime import time
import json
from pathlib import Path
from zoneinfo import ZoneInfo

from hypothesis import HealthCheck, given, settings
import pytest

from custom_components.galley_loads.core.boat import boat_file
from custom_components.galley_loads.core.boat.boat import Boat
from custom_components.galley_loads.core.boat.boat_file import (
    boat_from_text,
    boat_to_text,
    read_boat,
    read_mapping,
)
from custom_components.galley_loads.core.boat.boat_problems import BoatError
from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from tests.core.plain_python import DATA, run_many
from tests.said import refused, said

from .boat_strategies import boats

# What each broken boat file must be told: the field, and a word of what is wrong.
BROKEN_BOATS = {
    "a_list": "a list is not a mapping with the keys name,",
    "appliances_as_a_mapping": "appliances: a mapping is not a list",
    "array_without_its_sensor": "sensors.solar_power: missing",
    "current_without_voltage": "sensors.battery_voltage: missing",
    "dish_of_a_missing_appliance": "dishes[0].appliances.Wok: 'Wok' is not one of",
    "efficiency_in_percent": "inverter.efficiency: 92 is not a number from 0.3 to 1",
    "empty": "empty; needed is a boat description",
    "empty_bank": "bank: missing",
    "key_twice": "line 13, column 3: the key 'capacity_ah' occurs twice",
    "kilowatts_for_watts": "appliances[0].rated_power: 1.8 is not a number from 5",
    "latitude_out_of_range": "latitude: 385.3 is not a number from -90 to 90",
    "missing_bank": "bank: missing",
    "missing_circuit": "appliances[0].circuit: 'Galley 3' is not one of the boat's",
    "name_that_is_no_text": "name: True is not a name",
    "negative_capacity": "bank.capacity_ah: -420 is not a number above 0",
    "nested_too_deeply": "not a boat description: nested too deeply",
    "no_text": "not UTF-8 text",
    "no_way_to_a_load": "sensors: no way to a load; needed is ac_load_power",
    "no_yaml": "line 2, column 11: not YAML",
    "not_a_number": "solar.array_power: nan is not a number",
    "one_sensor_for_two_fields": "sensors.battery_power: 'sensor.bank_power' is solar",
    "python_object": "line 1, column 7: not YAML: could not determine a constructor",
    "ready_by_as_a_number": 'dishes[0].ready_by: 1930 is not a time of day such as "19:',
    "relay_that_is_no_switch": "circuits[0].relay: 'light.galley_1' is not an entity",
    "reserve_of_everything": "bank.reserve_soc: 100 is not a number from 0 to below 100",
    "sections_as_text": "sensors: 'sensor.inverter_output' is not a mapping",
    "sensor_that_gives_no_power": "sensors.ac_load_power: 'binary_sensor.inverter' is",
    "sensor_without_domain": "sensors.ac_load_power: 'Inverter output' is not an entity",
    "text_for_a_number": "appliances[1].rated_power: '1500 W' is not a number",
    "two_appliances_of_one_name": "appliances[1].name: 'hob' is the name of",
    "unknown_cut_rule": "circuits[0].cut: 'always' is not one of never, ask, auto",
    "unknown_key_at_the_top": "meal_gap: unknown key; did you mean meal_gap_minutes?",
    "unknown_key_in_the_bank": "bank.capacity: unknown key; did you mean capacity_ah?",
    "unknown_key_of_a_sensor": "sensors.ac_load_power.scale: unknown key; allowed are",
    "unknown_kind": "appliances[1].kind: 'stove' is not one of induction_hob,",
    "unknown_time_zone": "time_zone: 'Atlantic/Azure' is not the name of a time zone",
    "unreadable_ready_by": "dishes[0].ready_by: 'half past seven' is not a time of day",
    "wrong_unit": "sensors.solar_power.unit: 'kWh' is not one of the units W, kW, mW",
    "yes_for_a_number": "solar.array_power: True is not a number",
}


def broken_boat(name: str) -> Path:
    return DATA / "broken" / "boats" / f"{name}.yaml"


def test_every_broken_boat_file_is_looked_at() -> None:
    files = {path.stem for path in (DATA / "broken" / "boats").iterdir()}
    assert files == set(BROKEN_BOATS)


@pytest.mark.parametrize("name", sorted(BROKEN_BOATS))
def test_a_broken_boat_file_gets_one_line_that_names_the_field(name: str) -> None:
    with pytest.raises(BoatError) as caught:
        read_boat(broken_boat(name))

    assert said(caught.value).startswith(BROKEN_BOATS[name])
    assert len(said(caught.value).splitlines()) == 1


def test_the_command_says_what_the_platform_says_in_one_line_and_exits_with_2() -> None:
    names = sorted(BROKEN_BOATS)
    history = DATA / "broken" / "histories" / "empty.csv"

    outcomes, modules = run_many(
        "_replay.py", [[broken_boat(n), history] for n in names]
    )

    for name, outcome in zip(names, outcomes, strict=True):
        with pytest.raises(BoatError) as caught:
            read_boat(broken_boat(name))
        assert (outcome.status, outcome.out) == (2, ""), name
        assert outcome.err == f"replay: {broken_boat(name)}: {said(caught.value)}\n"
    # Here the schema ran on the platform's library, there on the plain one.
    assert "voluptuous" in modules
    assert not modules & {"homeassistant", "probatio"}


@pytest.mark.parametrize("ascii_only", [True, False])
def test_a_boat_may_be_described_in_json(ascii_only: bool) -> None:
    text = (DATA / "boats" / "petrel.yaml").read_text()
    description = {**read_mapping(text), "name": 'Möwe 🍳 "2"'}
    boat = boat_from_text(json.dumps(description, ensure_ascii=ascii_only))
    assert boat == replace(boat_from_text(text), name='Möwe 🍳 "2"')


def test_half_an_emoji_is_no_name() -> None:
    text = (DATA / "boats" / "petrel.yaml").read_text()
    with refused(BoatError, match="^name: .* is not a name of 1 to 100 printable"):
        boat_from_text(text.replace("name: Petrel", 'name: "\\ud83c"'))


@pytest.mark.parametrize("tagged", ["!!bool maybe", "!!int ''", "!!timestamp noon"])
def test_a_tag_that_does_not_fit_its_value_is_told_of(tagged: str) -> None:
    text = (DATA / "boats" / "petrel.yaml").read_text()
    with refused(BoatError, match="^not YAML: a tag") as caught:
        boat_from_text(text.replace("420", tagged, 1))
    assert len(said(caught.value).splitlines()) == 1


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ('"19:30"', time(19, 30)),
        ("19:30", time(19, 30)),
        ("07:05", time(7, 5)),
        ("7:05:30", time(7, 5, 30)),
    ],
)
def test_a_time_needs_no_quotation_marks(written: str, meant: time) -> None:
    text = (DATA / "boats" / "petrel.yaml").read_text()
    boat = boat_from_text(text.replace("ready_by: 19:30", f"ready_by: {written}"))
    assert boat.dishes[0].ready_by == meant


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("560", 560),
        ("-28.62", -28.62),
        ("0560", 560.0),
        ("1e3", 1000.0),
        (".5", 0.5),
        ("5.", 5.0),
        ("+7", 7),
        ("1_000", "1_000"),
        ("0x10", "0x10"),
        ("19:30", "19:30"),
        ("2026-05-11", "2026-05-11"),
        ("yes", True),
        ("~", None),
    ],
)
def test_numbers_are_what_people_take_for_numbers(written: str, meant: object) -> None:
    assert read_mapping(f"value: {written}") == {"value": meant}


@given(boats())
@settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow], deadline=None)
def test_a_boat_file_that_is_written_reads_back_as_the_same_boat(boat: Boat) -> None:
    assert boat_from_text(boat_to_text(boat)) == boat


class Marked(str):
    """A string that knows more, as those of the platform's own configuration do."""

    __slots__ = ("line",)


def test_a_boat_is_written_whoever_was_first_to_name_her_time_zone() -> None:
    name = "Pacific/Chatham"
    ZoneInfo.clear_cache(only_keys=[name])
    zone = ZoneInfo(Marked(name))
    mapping = {
        "name": "Kittiwake",
        "latitude": -43.95,
        "longitude": -176.56,
        "time_zone": name,
        "sensors": {"ac_load_power": "sensor.inverter"},
        "bank": {"capacity_ah": 560, "nominal_voltage": 12.8, "reserve_soc": 35},
    }
    boat = boat_from_text(boat_to_text(parse_boat(mapping)))
    assert boat.time_zone is zone
    ZoneInfo.clear_cache(only_keys=[name])


def test_a_file_far_too_long_is_not_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(boat_file, "LONGEST_FILE_BYTES", 10)
    path = tmp_path / "boat.yaml"
    path.write_text("name: Petrel of the Azores\n")
    with refused(BoatError, match="longer than 10 bytes"):
        read_boat(path)


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "boat.yaml"
    text = (DATA / "boats" / "petrel.yaml").read_text()
    path.write_text(text, encoding="utf-8-sig")
    assert read_boat(path) == read_boat(DATA / "boats" / "petrel.yaml")


@pytest.mark.parametrize(
    ("text", "start"),
    [
        ("a: \x00", "not YAML"),
        ("? [a]\n: 1", "line 1, column 3: not YAML"),
        ("a: &x 1\nb: *y", "line 2, column 4: not YAML"),
    ],
)
def test_yaml_that_is_none_is_told_where(text: str, start: str) -> None:
    with pytest.raises(BoatError) as caught:
        read_mapping(text)
    assert said(caught.value).startswith(start)
    assert len(said(caught.value).splitlines()) == 1
