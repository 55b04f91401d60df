"""The manual names what the interface shows, and its links lead somewhere."""

import json
from pathlib import Path
import re

import pytest

ROOT = Path(__file__).parent.parent
DOCS = ROOT / "docs"
PACKAGE = ROOT / "custom_components" / "galley_loads"
TEXTS = json.loads((PACKAGE / "translations" / "en.json").read_text())
PAGES = sorted([ROOT / "README.md", ROOT / "DEVELOPERS.md", *DOCS.glob("*.md")])
MANUAL = "\n".join(page.read_text() for page in DOCS.glob("*.md"))

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
