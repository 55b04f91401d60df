"""Runs the commands of `script/` as a person's shell would: in plain Python.

The tests' own process has the platform loaded, which puts its schema library in the place
of the plain one. The commands are therefore run in a fresh interpreter; one interpreter
runs many command lines, since starting it is what takes the time.
"""

from collections.abc import Sequence
from dataclasses import dataclass
import json
from pathlib import Path
import subprocess
import sys

ROOT = Path(__file__).parents[2]
DATA = ROOT / "tests" / "data"

_MANY = """
import contextlib, io, json, runpy, sys
sys.path.insert(0, sys.argv[1] + "/script")
outcomes = []
for command, *arguments in json.load(sys.stdin):
    out, err, status = io.StringIO(), io.StringIO(), None
    sys.argv = [command, *arguments]
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            runpy.run_path(command, run_name="__main__")
        except SystemExit as end:
            status = end.code
    outcomes.append([status, out.getvalue(), err.getvalue()])
json.dump({"outcomes": outcomes, "modules": sorted(sys.modules)}, sys.stdout)
"""


@dataclass(frozen=True, slots=True)
class Outcome:
    """How one command ended."""

    status: int | None
    out: str
    err: str


def run_many(
    command: str, lines: Sequence[Sequence[object]]
) -> tuple[list[Outcome], frozenset[str]]:
    """Run `script/COMMAND` once per line of arguments.

    Returns what each gave, and the modules that were loaded by the end.
    """
    script = str(ROOT / "script" / command)
    done = subprocess.run(
        [sys.executable, "-c", _MANY, str(ROOT)],
        input=json.dumps([[script, *map(str, line)] for line in lines]),
        capture_output=True,
        text=True,
        check=True,
    )
    result = json.loads(done.stdout)
    outcomes = [Outcome(*outcome) for outcome in result["outcomes"]]
    return outcomes, frozenset(result["modules"])
