"""Set-up brings what the platform would otherwise fetch by itself."""

from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, version
import json
from pathlib import Path
import subprocess
import tomllib

from homeassistant import components as platform_components
from homeassistant.bootstrap import CORE_INTEGRATIONS, DEFAULT_INTEGRATIONS
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
import pytest

REPOSITORY = Path(__file__).parents[2]
PINS = tomllib.loads((REPOSITORY / "pyproject.toml").read_text())["dependency-groups"]
PLATFORM_FOLDER = Path(platform_components.__path__[0])

# What a boat's own start loads beside the platform's defaults.
BOAT_INTEGRATIONS = {
    "config",
    "energy",
    "frontend",
    "history",
    "logbook",
    "lovelace",
    "recorder",
    "template",
}


def manifest_of(domain: str) -> dict:
    return json.loads((PLATFORM_FOLDER / domain / "manifest.json").read_text())


def loaded_at_a_start() -> Iterator[str]:
    """Yield each integration of a start, with all that it depends on."""
    waiting = CORE_INTEGRATIONS | DEFAULT_INTEGRATIONS | BOAT_INTEGRATIONS
    seen: set[str] = set()
    while waiting:
        domain = waiting.pop()
        seen.add(domain)
        yield domain
        waiting |= set(manifest_of(domain).get("dependencies", ())) - seen


def in_place(requirement: Requirement) -> bool:
    try:
        return version(requirement.name) in requirement.specifier
    except PackageNotFoundError:
        return False


def test_a_start_of_the_platform_finds_all_it_asks_for_in_place() -> None:
    asked = {
        requirement
        for domain in loaded_at_a_start()
        for requirement in map(Requirement, manifest_of(domain).get("requirements", ()))
    }
    lacking = {str(requirement) for requirement in asked if not in_place(requirement)}
    assert len(asked) > 10
    assert not lacking


def test_a_platform_pin_is_the_release_that_the_platform_itself_names() -> None:
    named = {
        (canonicalize_name(requirement.name), str(requirement.specifier))
        for manifest in PLATFORM_FOLDER.glob("*/manifest.json")
        for requirement in map(
            Requirement, json.loads(manifest.read_text()).get("requirements", ())
        )
    }
    # The multi-factor login names these in code, not in a manifest.
    login = {"pyotp", "pyqrcode"}
    pins = {
        (canonicalize_name(pin.name), str(pin.specifier))
        for pin in map(Requirement, PINS["platform"])
    }
    assert {pin for pin in pins - named if pin[0] not in login} == set()


@pytest.mark.parametrize("group", [name for name in PINS if name != "dev"])
def test_every_package_is_pinned_to_one_release(group: str) -> None:
    for pin in map(Requirement, PINS[group]):
        assert [clause.operator for clause in pin.specifier] == ["=="], str(pin)


def test_the_development_group_holds_every_group_but_the_one_of_set_up_itself() -> None:
    included = {entry["include-group"] for entry in PINS["dev"]}
    assert included == set(PINS) - {"dev", "bootstrap"}


def test_an_unknown_option_gets_one_line_that_names_it() -> None:
    done = subprocess.run(
        [REPOSITORY / "script/setup", "--brwser"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert "--brwser" in done.stderr
    assert "--browser" in done.stderr
