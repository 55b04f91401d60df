"""What the watch over the circuits keeps: questions, keeps, log, savings, what was reported.

Everything is kept by names; the names of that time are kept with it, so that a circuit
that was renamed meanwhile keeps its state.
"""

from collections.abc import Mapping
from typing import Any, TypedDict

from ..core.cutting.cutting_rules import CuttingRulesState
from .boat_store import BoatStore


class StoredWatch(TypedDict):
    """The content of the file.

    `circuits` gives each circuit's name by subentry id, `saved_wh` the standby that cuts
    have saved by subentry id, `gone_wh` that of circuits that have been removed.
    """

    circuits: dict[str, str]
    appliances: dict[str, str]
    rules: CuttingRulesState
    reports: dict[str, Any]
    saved_wh: dict[str, float]
    gone_wh: float


class WatchStore(BoatStore[StoredWatch]):
    """What one boat's watch keeps."""

    file = "watch"


def renamed_rules(
    rules: Mapping[str, Any], old: Mapping[str, str], new: Mapping[str, str]
) -> dict[str, Any]:
    """Return the state of the rules under the circuits' new names.

    `old` and `new` give names by subentry id. Questions are closed by a renaming: they
    were asked about a circuit that is now called otherwise.
    """
    if old == new:
        return dict(rules)
    names = {name: new[part_id] for part_id, name in old.items() if part_id in new}
    cases = {
        names[name]: case for name, case in rules["cases"].items() if name in names
    }
    return {**rules, "cases": cases, "questions": []}
