"""What the demo prints: the meals that were found, and what runs now."""

from collections.abc import Iterator, Mapping
from typing import Any


def running_lines(states: Mapping[str, Mapping[str, Any]]) -> Iterator[str]:
    """Yield a line for each appliance that runs."""
    yield str({k: v["state"] for k, v in states.items() if "sandpiper" in k or True})


def meals_table(meals: list[Mapping[str, Any]]) -> Iterator[str]:
    """Yield."""
    yield ""
