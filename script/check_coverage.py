"""Fails when a module of the integration is covered less than it must be.

The sum over all modules would let one untested module hide behind the others.

    check_coverage.py COVERAGE.json [--least PERCENT]
"""

import argparse
import json
from pathlib import Path
import sys

PACKAGE = Path("custom_components/galley_loads")


# What a person reads before opening the module anyway.
SHOWN_SPANS = 8


def spans(lines: list[int]) -> str:
    """Write line numbers as spans, `3, 7-9`, and only as many as one reads."""
    found: list[list[int]] = []
    for line in lines:
        if found and line == found[-1][1] + 1:
            found[-1][1] = line
        else:
            found.append([line, line])
    texts = [f"{first}-{last}" if first < last else f"{first}" for first, last in found]
    rest = ["..."] if len(texts) > SHOWN_SPANS else []
    return ", ".join(texts[:SHOWN_SPANS] + rest)


def modules_below(report: dict[str, dict], least_percent: float) -> list[str]:
    """Name each module of the package below the least, with its missing lines."""
    measured = {Path(name).as_posix(): data for name, data in report["files"].items()}
    lines = []
    for module in sorted(PACKAGE.rglob("*.py")):
        data = measured.get(module.as_posix())
        if data is None:
            lines.append(f"{module}: not measured at all")
            continue
        percent = data["summary"]["percent_covered"]
        if percent < least_percent:
            missing = spans(data["missing_lines"])
            lines.append(f"{module}: {percent:.1f} %, missing lines {missing}")
    return lines


def main() -> int:
    """Print what is below the least; the exit status says whether anything is."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("report", type=Path)
    parser.add_argument("--least", type=float, default=95.0, metavar="PERCENT")
    arguments = parser.parse_args()
    if not arguments.report.exists():
        print(f"coverage: no {arguments.report}; the tests did not get that far")
        return 1
    report = json.loads(arguments.report.read_text(encoding="utf-8"))
    below = modules_below(report, arguments.least)
    for line in below:
        print(f"coverage: {line}")
    if below:
        print(f"coverage: every module needs at least {arguments.least:g} %")
        return 1
    total = report["totals"]["percent_covered"]
    print(
        f"coverage: every module has at least {arguments.least:g} %, {total:.1f} % in all"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
