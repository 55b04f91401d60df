"""`python -m demo.simulator --seed 3 --days 5 --out DIR`: a boat's history as files."""

import argparse
from dataclasses import MISSING, fields
from pathlib import Path
import sys
import time
from typing import Any

from .appliances import MAKES
from .boat import random_boat
from .files import write
from .options import SimOptions
from .simulation import simulate


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m demo.simulator",
        description="Simulate a boat; write boat.yaml, history.csv.gz and truth.json.gz.",
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, required=True, metavar="DIR")
    for field in fields(SimOptions):
        flag = "--" + field.name.replace("_", "-")
        default: Any = field.default
        if default is MISSING:
            continue
        if isinstance(default, bool) or field.name == "battery_as_power":
            parser.add_argument(
                flag,
                dest=field.name,
                action=argparse.BooleanOptionalAction,
                default=default,
            )
        elif field.name in ("kinds", "metered"):
            known = (
                f"of {', '.join(MAKES)}" if field.name == "kinds" else "kinds or names"
            )
            parser.add_argument(
                flag,
                dest=field.name,
                nargs="+",
                default=default,
                metavar="KIND",
                help=known,
            )
        else:
            parser.add_argument(
                flag, dest=field.name, type=type(default), default=default
            )
    return parser


def main(arguments: list[str] | None = None) -> int:
    """Run the command; return its exit status."""
    chosen = vars(_parser().parse_args(arguments))
    seed, folder = chosen.pop("seed"), chosen.pop("out")
    for name in ("kinds", "metered"):
        if chosen[name] is not None:
            chosen[name] = tuple(chosen[name])
    unknown = [kind for kind in chosen["kinds"] or () if kind not in MAKES]
    if unknown:
        print(
            f"--kinds: {unknown[0]}: one of {', '.join(MAKES)} is allowed",
            file=sys.stderr,
        )
        return 2
    options = SimOptions(**chosen)
    began = time.perf_counter()
    boat = random_boat(seed, options)
    result = simulate(boat, seed, options)
    rows = write(result, folder)
    print(
        f"{boat.description['name']}: {options.days:g} day{'' if options.days == 1 else 's'}, {rows} rows, "
        f"{len(result.truth.runs)} runs, {len(result.truth.meals)} meals, "
        f"{result.truth.load_wh:.0f} Wh in {time.perf_counter() - began:.1f} s"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
