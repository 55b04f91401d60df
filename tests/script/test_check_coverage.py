"""One module without tests cannot hide behind the others."""

from pathlib import Path
from runpy import run_path

import pytest

check = run_path(str(Path(__file__).parents[2] / "script/check_coverage.py"))
modules_below = check["modules_below"]


spans = check["spans"]


def covered(percent: float, *missing: int) -> dict:
    return {"summary": {"percent_covered": percent}, "missing_lines": list(missing)}


@pytest.fixture
def package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    folder = tmp_path / check["PACKAGE"]
    (folder / "core").mkdir(parents=True)
    for name in ("sensor.py", "core/meals.py"):
        (folder / name).touch()
    return check["PACKAGE"]


def test_a_module_below_the_least_is_named_with_its_missing_lines(
    package: Path,
) -> None:
    report = {
        "files": {
            f"{package}/sensor.py": covered(94.9, 7, 9),
            f"{package}/core/meals.py": covered(95.0),
        }
    }
    assert modules_below(report, 95.0) == [
        f"{package}/sensor.py: 94.9 %, missing lines 7, 9"
    ]


def test_a_module_that_no_test_imports_is_named_too(package: Path) -> None:
    report = {"files": {f"{package}/sensor.py": covered(100.0)}}
    assert modules_below(report, 95.0) == [
        f"{package}/core/meals.py: not measured at all"
    ]


def test_nothing_is_named_where_every_module_has_enough(package: Path) -> None:
    report = {
        "files": {
            f"{package}/sensor.py": covered(100.0),
            f"{package}/core/meals.py": covered(96.0, 3),
        }
    }
    assert modules_below(report, 95.0) == []


def test_missing_lines_are_told_in_spans() -> None:
    assert spans([]) == ""
    assert spans([3, 7, 8, 9, 12]) == "3, 7-9, 12"


def test_a_long_list_of_missing_lines_is_cut_short() -> None:
    assert spans(list(range(1, 101, 2))) == "1, 3, 5, 7, 9, 11, 13, 15, ..."
