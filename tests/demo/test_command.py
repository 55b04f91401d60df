"""`script/demo` as somebody at a terminal meets it, with the real platform behind it."""

from collections.abc import Iterator
import json
import os
from pathlib import Path
import re
import shutil
import socket
import subprocess
import sys
from typing import NamedTuple

import pytest
import yaml

from demo.sandpiper import APPLIANCES
from demo.story import PAST_DAYS

ROOT = Path(__file__).parents[2]
DASHBOARD = ROOT / "demo" / "config" / "dashboard.yaml"


def demo(
    *arguments: str, options: tuple[str, ...] = ()
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *options, "-m", "demo", *arguments],
        cwd=ROOT,
        env={key: value for key, value in os.environ.items() if key != "PYTHONPATH"},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


def free_port() -> int:
    """Ask in another process; the test harness watches sockets in this one."""
    ask = "import socket; s = socket.socket(); s.bind(('127.0.0.1', 0)); print(s.getsockname()[1])"
    return int(subprocess.check_output([sys.executable, "-c", ask]))


class Shown(NamedTuple):
    """What one start of the demo said, and the folder it left."""

    port: int
    result: subprocess.CompletedProcess[str]
    folder: Path


@pytest.fixture(scope="module")
def shown() -> Iterator[Shown]:
    port = free_port()
    folder = ROOT / ".demo" / str(port)
    yield Shown(port, demo("--once", "--port", str(port)), folder)
    shutil.rmtree(folder, ignore_errors=True)


def test_it_says_where_the_boat_is_what_she_cooked_and_what_runs(shown: Shown) -> None:
    assert shown.result.returncode == 0, shown.result.stdout + shown.result.stderr
    said = shown.result.stdout
    assert f"http://127.0.0.1:{shown.port}/" in said
    assert "Login:" in said
    found = re.search(rf"(\d+) meals found in the past {PAST_DAYS} days", said)
    assert found is not None
    assert int(found[1]) >= 15
    assert len(re.findall(r"^  .* Wh +[\d.]+ Ah", said, re.MULTILINE)) == int(found[1])
    running = said.partition("Running now:")[2]
    assert "Water bath" in running
    assert "this meal so far:" in running


def test_it_serves_this_machine_alone(shown: Shown) -> None:
    stored = json.loads((shown.folder / ".storage" / "http").read_text())
    assert stored["data"]["stable"]["server_host"] == ["127.0.0.1"]
    assert stored["data"]["stable"]["server_port"] == shown.port
    assert stored["data"]["pending"] is None
    lines = (shown.folder / "configuration.yaml").read_text().splitlines()
    assert "http:" not in lines


def test_it_leaves_nobody_listening(shown: Shown, socket_enabled: None) -> None:
    with socket.socket() as probe:
        probe.settimeout(2)
        assert probe.connect_ex(("127.0.0.1", shown.port)) != 0


def test_neither_the_boat_nor_the_integration_complains(shown: Shown) -> None:
    log = (shown.folder / "output.log").read_text()
    blocks = re.split(r"^(?=20\d\d-\d\d-\d\d )", log, flags=re.MULTILINE)
    faults = [
        block
        for block in blocks
        if (" ERROR " in block or "blocking call" in block)
        and ("galley_loads" in block or "sandpiper" in block or "template" in block)
    ]
    assert faults == []


def test_every_entity_of_the_dashboard_is_there(shown: Shown) -> None:
    registry = json.loads((shown.folder / ".storage/core.entity_registry").read_text())
    known = {entity["entity_id"] for entity in registry["data"]["entities"]}
    named = set(
        re.findall(
            r"\b(?:binary_sensor|sensor|switch|select)\.[a-z0-9_]+",
            DASHBOARD.read_text(),
        )
    )
    assert len(named) > 4 * len(APPLIANCES)
    assert named - known == set()


def test_every_appliance_has_its_place_on_the_dashboard() -> None:
    view = yaml.safe_load(DASHBOARD.read_text())["views"][0]
    cards = [card for section in view["sections"] for card in section["cards"]]
    for appliance in APPLIANCES:
        slug = appliance.name.lower().replace(" ", "_")
        shown_when = [
            card["visibility"]
            for card in cards
            if f".{slug}_" in card.get("entity", "")
        ]
        # One card while it runs, another while it does not.
        assert len(shown_when) == 2


def test_the_manual_gives_the_dashboard_that_the_demo_shows() -> None:
    manual = (ROOT / "docs" / "dashboard.md").read_text()
    board, template = re.findall(r"```yaml\n(.*?)```", manual, re.DOTALL)
    assert board == DASHBOARD.read_text()
    in_manual = yaml.safe_load(template)
    in_demo = yaml.safe_load((ROOT / "demo/config/configuration.yaml").read_text())
    assert in_manual["template"] == in_demo["template"]
    assert in_manual["recorder"]["exclude"] == in_demo["recorder"]["exclude"]


def test_a_busy_port_gets_one_line(socket_enabled: None) -> None:
    with socket.socket() as busy:
        busy.bind(("127.0.0.1", 0))
        busy.listen()
        port = busy.getsockname()[1]
        result = demo("--once", "--port", str(port))
    assert result.returncode == 2
    assert result.stderr == (
        f"demo: port {port} is in use; choose another one with --port\n"
    )


@pytest.mark.parametrize("port", ["0", "galley"])
def test_a_port_that_is_none_gets_one_line(port: str) -> None:
    result = demo("--port", port)
    assert result.returncode == 2
    assert len(result.stderr.splitlines()) == 1
    assert port in result.stderr


def test_a_missing_package_gets_one_line() -> None:
    """Without the platform's packages only the standard library is left."""
    result = demo("--once", options=("-S",))
    assert result.returncode == 2
    assert len(result.stderr.splitlines()) == 1
    assert "script/setup" in result.stderr
