"""The manual names what the interface shows, and its links lead somewhere."""

from collections.abc import Iterator
import json
from pathlib import Path
import re
from typing import Any

import hass_frontend
import pytest

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
