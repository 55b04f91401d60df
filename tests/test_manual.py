"""The manual names what the interface shows, and its links lead somewhere."""

from collections.abc import Iterator
import json
from pathlib import Path
import re
from typing import Any

import hass_frontend
from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
import pytest

from .at_home import boat_entry, set_sensors, start_boat

ROOT = Path(__file__).parent.parent
DOCS = ROOT / "docs"
PACKAGE = ROOT / "custom_components" / "galley_loads"
TEXTS = json.loads((PACKAGE / "translations" / "en.json").read_text())
PAGES = sorted([ROOT / "README.md", ROOT / "DEVELOPERS.md", *DOCS.glob("*.md")])
MANUAL = "\n".join(page.read_text() for page in DOCS.glob("*.md"))

PLATFORM_TEXTS = Path(hass_frontend.__file__).parent / "static" / "translations"
# The name of the integration, and what opens a menu.
OWN_STEPS = {"Galley Loads", "⋮"}

_WAY = re.compile(r"\*([^*\n]+ → [^*\n]+)\*")
_LINK = re.compile(r"\]\(([^)#\s]+)(?:#[^)]*)?\)")


@pytest.mark.parametrize(
    "name",
    sorted(
        entity["name"]
        for entities in TEXTS["entity"].values()
        for entity in entities.values()
        if "name" in entity
    ),
)
def test_every_entity_stands_in_the_manual(name: str) -> None:
    assert name in MANUAL


def _rows(section: str) -> dict[str, str]:
    """Return the rows of a section of the page of entities, by each entity's name."""
    page = (DOCS / "entities.md").read_text()
    part = page.split(f"\n## {section}\n", 1)[1].split("\n## ", 1)[0]
    rows = [line for line in part.splitlines() if line.startswith("| ")]
    return {name.strip(): row for row in rows for name in row.split("|")[1].split(",")}


@pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")
async def test_the_manual_tells_what_is_off_by_default_and_what_is_diagnostic(
    hass: HomeAssistant, entity_registry: er.EntityRegistry
) -> None:
    set_sensors(hass)
    entry = await start_boat(hass, boat_entry())
    sections = {
        None: "The boat",
        **{
            part.subentry_id: f"A{'n' if part.subentry_type[0] in 'aeiou' else ''}"
            f" {part.subentry_type}"
            for part in entry.subentries.values()
        },
    }
    shown = er.async_entries_for_config_entry(entity_registry, entry.entry_id)
    assert len({sections[one.config_subentry_id] for one in shown}) == 3
    for one in shown:
        row = _rows(sections[one.config_subentry_id])[one.original_name]
        assert ("off by default" in row) == (one.disabled_by is not None), row
        assert ("diagnostic" in row) == (one.entity_category == "diagnostic"), row


@pytest.mark.parametrize("section", ["services", "triggers", "conditions"])
def test_every_action_trigger_and_condition_stands_in_the_manual(section: str) -> None:
    missing = [key for key in TEXTS[section] if f"galley_loads.{key}" not in MANUAL]
    assert missing == []


def test_every_field_of_an_action_stands_in_the_manual() -> None:
    missing = [
        f"{action}.{field}"
        for action, texts in TEXTS["services"].items()
        for field in texts.get("fields", {})
        if f"`{field}`" not in MANUAL
    ]
    assert missing == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_leads_somewhere(page: Path) -> None:
    broken = [
        link
        for link in _LINK.findall(page.read_text())
        if "://" not in link and not (page.parent / link).exists()
    ]
    assert broken == []


def _texts(tree: dict[str, Any]) -> Iterator[str]:
    for part in tree.values():
        if isinstance(part, dict):
            yield from _texts(part)
        else:
            yield part


def test_every_way_through_the_interface_is_there() -> None:
    """Compared with the texts of the platform's own pages."""
    known = set(_texts(TEXTS)) | OWN_STEPS
    for file in PLATFORM_TEXTS.rglob("en-*.json"):
        if re.fullmatch(r"en-[0-9a-f]{32}\.json", file.name):
            known.update(_texts(json.loads(file.read_text())))
    pages = MANUAL + (ROOT / "README.md").read_text()
    ways = [way.split(" → ") for way in _WAY.findall(pages)]
    assert len(ways) > 8
    assert [way for way in ways if not known.issuperset(way)] == []
