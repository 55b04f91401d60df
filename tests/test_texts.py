"""Every text is there: flows, entities, issues, exceptions, icons."""

import ast
from collections.abc import Iterable
import json
from pathlib import Path
import re
from typing import Any

import pytest
import yaml

from custom_components.galley_loads.boat.sensor_check import MEASURES
from custom_components.galley_loads.core.boat.boat import Chemistry, CutRule, Supply
from custom_components.galley_loads.core.boat.boat_problems import Fault
from custom_components.galley_loads.core.kinds.catalogue import KINDS
from custom_components.galley_loads.core.live.live_view import ApplianceState
from custom_components.galley_loads.core.meals.meal_builder import LABELS
from custom_components.galley_loads.entities.sensor_descriptions import BOAT_SENSORS
from custom_components.galley_loads.flows.boat_file_form import BOAT_FILE_FORM
from custom_components.galley_loads.flows.circuit import CIRCUIT_FORM
from custom_components.galley_loads.flows.forms import (
    BANK_FORM,
    INVERTER_FORM,
    boat_form,
    sensors_form,
    solar_form,
)
from custom_components.galley_loads.flows.options import OPTIONS_FORM

FOLDER = Path(__file__).parent.parent / "custom_components" / "galley_loads"
DOCS = FOLDER.parent.parent / "docs"
TEXTS: dict[str, Any] = json.loads((FOLDER / "translations" / "en.json").read_text())
ICONS: dict[str, Any] = json.loads((FOLDER / "icons.json").read_text())
MANIFEST: dict[str, Any] = json.loads((FOLDER / "manifest.json").read_text())

SENSOR_PROBLEMS = {
    "sensor_missing",
    "no_place",
    "our_own",
    "no_number",
    *(f"no_{quantity}_unit" for quantity in MEASURES),
}
FAULTS = {fault.value for fault in Fault}

APPLIANCE_FIELDS = {
    "name",
    "kind",
    "rated_power",
    "standby_power",
    "power_sensor",
    "reversed",
    "supply",
    "circuit",
}
DISH_FIELDS = {"name", "appliances", "energy", "ready_by"}

FORMS = {
    ("config", "sensors"): set(map(str, sensors_form({}).schema)),
    ("config", "bank"): set(map(str, BANK_FORM.schema)) - {"details"},
    ("config", "inverter"): set(map(str, INVERTER_FORM.schema)),
    ("config", "solar"): set(map(str, solar_form([]).schema)),
    ("config", "boat"): set(map(str, boat_form([]).schema)),
    ("config", "boat_file"): set(map(str, BOAT_FILE_FORM.schema)),
    ("options", "init"): set(map(str, OPTIONS_FORM.schema)),
    ("circuit", "user"): set(map(str, CIRCUIT_FORM.schema)),
    ("circuit", "reconfigure"): set(map(str, CIRCUIT_FORM.schema)),
    ("appliance", "user"): APPLIANCE_FIELDS,
    ("appliance", "reconfigure"): APPLIANCE_FIELDS,
    ("appliance", "metered"): {"meter"},
    ("dish", "user"): DISH_FIELDS,
    ("dish", "reconfigure"): DISH_FIELDS,
}


def flow_texts(flow: str) -> dict[str, Any]:
    if flow in TEXTS["config_subentries"]:
        return TEXTS["config_subentries"][flow]
    return TEXTS[flow]


@pytest.mark.parametrize(("flow", "step"), FORMS)
def test_every_field_has_a_name_and_an_explanation(flow: str, step: str) -> None:
    texts = flow_texts(flow)["step"][step]
    assert texts["title"]
    assert texts["description"]
    assert set(texts["data"]) == FORMS[flow, step]
    assert set(texts["data_description"]) == FORMS[flow, step]


@pytest.mark.parametrize(("flow", "step"), FORMS)
def test_the_manual_has_every_field(flow: str, step: str) -> None:
    texts = flow_texts(flow)["step"][step]
    if step == "metered":
        # A choice among the owner's own devices, and no field of the boat.
        assert set(texts["data"]) == {"meter"}
        return
    manual = (DOCS / "fields.md").read_text()
    for part in (texts, *texts.get("sections", {}).values()):
        for field, name in part.get("data", {}).items():
            row = f"| {name} | {part['data_description'][field]} |"
            assert row in manual, (flow, step, field)


def test_the_details_of_the_bank_are_explained() -> None:
    texts = TEXTS["config"]["step"]["bank"]["sections"]["details"]
    fields = {str(key) for key in BANK_FORM.schema["details"].schema.schema}
    assert set(texts["data"]) == set(texts["data_description"]) == fields


def test_every_error_has_a_text() -> None:
    assert FAULTS | SENSOR_PROBLEMS | {
        "name_taken",
        "no_way_to_load",
        "not_one_way",
        "sensor_unfit",
        "claimed",
    } == set(TEXTS["config"]["error"])
    subentries = TEXTS["config_subentries"]
    assert FAULTS | SENSOR_PROBLEMS | {"no_meter", "claimed"} == set(
        subentries["appliance"]["error"]
    )
    assert FAULTS | {"sensor_missing", "relay_needed", "claimed"} == set(
        subentries["circuit"]["error"]
    )
    assert set(subentries["dish"]["error"]) == FAULTS
    assert set(TEXTS["options"]["error"]) == {"half_quiet_hours"}
    repair = TEXTS["issues"]["sensor_missing"]["fix_flow"]
    assert SENSOR_PROBLEMS | {"duplicate", "claimed"} == set(repair["error"])


def test_every_abort_and_menu_has_a_text() -> None:
    assert "already_configured" in TEXTS["config"]["abort"]
    for texts in TEXTS["config_subentries"].values():
        assert texts["abort"]["already_configured"]
        assert texts["entry_type"]
        assert set(texts["initiate_flow"]) == {"user", "reconfigure"}
    choose = TEXTS["config_subentries"]["appliance"]["step"]["choose"]
    assert set(choose["menu_options"]) == {"metered", "plain"}
    steps = TEXTS["config"]["step"]
    assert set(steps["user"]["menu_options"]) == {"sensors", "boat_file"}
    assert set(TEXTS["config"]["create_entry"]) == {"default", "boat_file"}
    assert set(steps["reconfigure"]["menu_options"]) == {
        "sensors",
        "bank",
        "inverter",
        "solar",
        "boat",
    }


def without_a_text(selector: str, words: Iterable[Any]) -> set[str]:
    """Return the words that a choice offers and no text names, and the other way round."""
    texts = set(TEXTS["selector"][selector]["options"])
    return texts ^ {str(word) for word in words}


@pytest.mark.parametrize(
    ("selector", "words"),
    [
        ("kind", KINDS),
        ("chemistry", Chemistry),
        ("supply", Supply),
        ("cut", CutRule),
        ("battery_power_positive", ["charging", "discharging"]),
    ],
)
def test_every_choice_has_a_text(selector: str, words: Any) -> None:
    assert not without_a_text(selector, words)


def test_every_state_of_an_appliance_has_a_text_and_an_icon() -> None:
    states = {state.value for state in ApplianceState}
    assert set(TEXTS["entity"]["sensor"]["state"]["state"]) == states
    assert set(ICONS["entity"]["sensor"]["state"]["state"]) == states


def test_every_label_of_a_meal_begins_with_a_capital_where_it_is_shown() -> None:
    (last_meal,) = (one for one in BOAT_SENSORS if one.key == "last_meal")
    texts = TEXTS["entity"]["sensor"]["last_meal"]["state"]
    assert set(texts) == set(last_meal.options or ())
    assert [text.lower() for text in texts.values()] == list(LABELS)
    assert all(text[0].isupper() for text in texts.values())


def source_trees() -> list[ast.Module]:
    return [ast.parse(path.read_text()) for path in sorted(FOLDER.glob("**/*.py"))]


def keywords(name: str) -> set[str]:
    """Return every plain text that is given as a keyword argument of that name."""
    return {
        keyword.value.value
        for tree in source_trees()
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        for keyword in node.keywords
        if keyword.arg == name and isinstance(keyword.value, ast.Constant)
    }


def test_every_translation_key_in_the_code_has_a_text() -> None:
    known = {
        *(key for platform in TEXTS["entity"].values() for key in platform),
        *TEXTS["exceptions"],
        *TEXTS["issues"],
        *TEXTS["selector"],
        *TEXTS.get("device", {}),
    }
    missing = keywords("translation_key") - known
    assert not missing


@pytest.mark.parametrize("section", ["triggers", "conditions"])
def test_every_trigger_and_condition_has_texts_and_an_icon(section: str) -> None:
    described = {
        key: value or {}
        for key, value in yaml.safe_load(
            (FOLDER / f"{section}.yaml").read_text()
        ).items()
        if not key.startswith(".")
    }
    assert set(described) == set(TEXTS[section]) == set(ICONS[section])
    for key, value in described.items():
        texts = TEXTS[section][key]
        assert texts["name"] and texts["description"], key
        assert set(value.get("fields", {})) == set(texts.get("fields", {})), key
        for field, field_texts in texts.get("fields", {}).items():
            assert field_texts["name"], (key, field)


def test_every_check_of_the_quality_scale_has_an_answer() -> None:
    rules = yaml.safe_load((FOLDER / "quality_scale.yaml").read_text())["rules"]
    assert len(rules) == 54
    for rule, answer in rules.items():
        if isinstance(answer, dict):
            assert answer["status"] in ("todo", "exempt"), rule
            assert answer["comment"], rule
        else:
            assert answer in ("done", "todo"), rule


def test_icons_are_of_entities_that_have_a_name() -> None:
    for platform, icons in ICONS["entity"].items():
        assert set(icons) <= set(TEXTS["entity"][platform]), platform


def test_texts_have_no_references_and_balanced_braces() -> None:
    def walk(value: Any, path: str) -> None:
        if isinstance(value, dict):
            for key, part in value.items():
                walk(part, f"{path}.{key}")
            return
        assert "[%key" not in value, path
        assert value.strip() == value, path
        assert value, path
        assert re.sub(r"\{[a-z_]+\}", "", value).count("{") == 0, path

    walk(TEXTS, "")


def test_entity_texts_are_sorted_by_key() -> None:
    for platform, texts in TEXTS["entity"].items():
        assert list(texts) == sorted(texts), platform


def test_the_manifest_is_in_the_order_that_the_platform_asks_for() -> None:
    keys = list(MANIFEST)
    assert keys[:2] == ["domain", "name"]
    assert keys[2:] == sorted(keys[2:])
    assert MANIFEST["domain"] == FOLDER.name
    assert MANIFEST["requirements"] == []
    assert re.fullmatch(r"\d+\.\d+\.\d+", MANIFEST["version"])


def test_brand_images_are_there_at_the_sizes_asked_for() -> None:
    sizes = {
        "icon.png": (256, 256),
        "icon@2x.png": (512, 512),
        "dark_icon.png": (256, 256),
        "dark_icon@2x.png": (512, 512),
    }
    for name, size in sizes.items():
        assert png_size(FOLDER / "brand" / name) == size, name
    for name, height in (("logo.png", 256), ("logo@2x.png", 512)):
        for prefix in ("", "dark_"):
            assert png_size(FOLDER / "brand" / f"{prefix}{name}")[1] == height


def png_size(path: Path) -> tuple[int, int]:
    """Return width and height as the header of a PNG file tells them."""
    head = path.read_bytes()[:24]
    assert head[:8] == b"\x89PNG\r\n\x1a\n", path
    return int.from_bytes(head[16:20]), int.from_bytes(head[20:24])


def test_the_title_of_a_repair_fits_on_one_line_of_a_phone() -> None:
    """The platform prints the next line over a second one."""
    steps = {
        (issue, name): step["title"]
        for issue, texts in TEXTS["issues"].items()
        for name, step in texts.get("fix_flow", {}).get("step", {}).items()
    }
    assert len(steps) > 5
    long = {key: title for key, title in steps.items() if len(title) > 26}
    assert long == {}
    assert not any("{" in title for title in steps.values())
