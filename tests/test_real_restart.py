"""A power cut in the middle of a meal, with the real platform and a real SIGKILL.

script/test -m real        only this
script/test -m "not real"  all else
"""

import json
from pathlib import Path
import subprocess
import sys
from typing import Any

import pytest

from .afternoon import COUNTERS, OVEN_W

pytestmark = pytest.mark.real

ROOT = Path(__file__).parents[1]


def free_port() -> int:
    """Ask in another process; the test harness watches sockets in this one."""
    ask = (
        "import socket; s = socket.socket(); s.bind(('127.0.0.1', 0));"
        " print(s.getsockname()[1])"
    )
    return int(subprocess.check_output([sys.executable, "-c", ask]))


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What the platform knew before and after the cut."""
    folder = tmp_path_factory.mktemp("afternoon") / "config"
    done = subprocess.run(
        [sys.executable, "-m", "tests.afternoon", str(folder), str(free_port())],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout)


def test_the_meal_is_whole_but_for_thirty_seconds(known: dict[str, Any]) -> None:
    before, after = known["before"], known["after"]
    # What is shown is a few seconds old: a turn every two seconds, on a busy machine more.
    shown_late_wh = OVEN_W * 10 / 3600
    assert before["meal_wh"] == pytest.approx(before["true_wh"], abs=shown_late_wh)
    missing_wh = after["true_wh"] - after["meal_wh"]
    assert missing_wh <= OVEN_W * 30 / 3600
    # What was known before the cut was not lost, and nothing was made up.
    assert after["meal_wh"] > before["meal_wh"]
    assert after["meal_wh"] <= after["true_wh"] + 1.0


def test_no_counter_falls(known: dict[str, Any]) -> None:
    before, after = known["before"]["counters"], known["after"]["counters"]
    assert set(before) == set(after) == set(COUNTERS)
    assert before[COUNTERS[0]] > 0
    assert all(after[name] >= before[name] for name in COUNTERS)
    # Nor does one show less for a moment while the platform comes up.
    first = known["first"]["counters"]
    assert all(value >= before[name] for name, value in first.items())


def test_lunch_is_in_the_book_once_before_and_after(known: dict[str, Any]) -> None:
    assert known["meals_before"] == known["meals_after"]
    (lunch,) = known["meals_after"]
    assert lunch["appliances"] == ["Kettle", "Oven"]
