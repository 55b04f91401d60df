"""Which appliances run together: chances that follow the evidence, and one that is believed.

A single look is fickle: the first reading after a step may have been caught half-way. So
the chances of all sets of appliances follow what each look says within some seconds, and
another set is believed only when it has become clearly likelier than the one that is.
"""

from collections.abc import Mapping
from math import exp
from typing import Final, TypedDict

FOLLOW_S: Final = 12.0
"""Measured by `script/bench live`, s: with 6 more starts are shown than runs begin."""
CLEARLY: Final = 4.0
"""Measured by `script/bench live`, a factor: 2.5 changes its mind too often, 10 too late."""
ADDS: Final = 1.2
"""Measured by `script/bench live`, a factor: what only adds a name needs less."""
ENDS: Final = 1.5
"""Measured by `script/bench live`, a factor: so does what ends without another in its
place."""
HARDLY: Final = 0.02
"""Judgement, a chance: a set that is believed is given up below it."""
FORGOTTEN: Final = 0.005
"""Judgement, a chance: what no look speaks of any more is forgotten below it."""
LEAST_STEP_S: Final = 1.0
"""Judgement, s: a look counts for so long at least."""
APART_S: Final = 60.0
"""Judgement, s: after a longer pause between two looks the second stands alone."""

NOBODY: Final = ""
"""Stands for a load that nobody named."""

type Together = frozenset[str]
"""Names of the appliances that run at the same time, `NOBODY` among them for others."""


class JointState(TypedDict):
    """The saved state."""

    chances: list[tuple[list[str], float]]
    believed: list[str]
    looked_s: float | None


class JointChances:
    """Follows which appliances run together."""

    def __init__(self) -> None:
        """Start without a look."""
        self._chances: dict[Together, float] = {}
        self.looked_s: float | None = None
        self.believed: Together = frozenset()

    def look(self, at_s: float, chances: Mapping[Together, float]) -> Together:
        """Take the chances that a look gives, which add up to 1; return what is believed."""
        before_s, self.looked_s = self.looked_s, at_s
        if before_s is None or at_s - before_s > APART_S:
            self._chances = dict(chances)
        else:
            share = 1.0 - exp(-max(LEAST_STEP_S, at_s - before_s) / FOLLOW_S)
            known = self._chances
            for each in {*known, *chances}:
                chance = known.get(each, 0.0)
                chance += share * (chances.get(each, 0.0) - chance)
                if chance < FORGOTTEN and each not in chances:
                    known.pop(each, None)
                else:
                    known[each] = chance
        likeliest = max(
            self._chances, key=lambda each: (self._chances[each], *sorted(each))
        )
        held = self._chances.get(self.believed, 0.0)
        if _named(likeliest) >= _named(self.believed):
            needed = ADDS
        elif likeliest < self.believed:
            needed = ENDS
        else:
            needed = CLEARLY
        if held < HARDLY or self._chances[likeliest] > needed * held:
            self.believed = likeliest
        return self.believed

    def chance(self, name: str) -> float:
        """Return the chance that an appliance runs, 0 to 1."""
        return sum(c for each, c in self._chances.items() if name in each)

    def snapshot(self) -> JointState:
        """Return the whole state, JSON-able."""
        return {
            "chances": [(sorted(each), c) for each, c in self._chances.items()],
            "believed": sorted(self.believed),
            "looked_s": self.looked_s,
        }

    def restore(self, state: JointState) -> None:
        """Take over what `snapshot` gave."""
        self._chances = {frozenset(names): c for names, c in state["chances"]}
        self.believed = frozenset(state["believed"])
        self.looked_s = state["looked_s"]


def _named(together: Together) -> Together:
    return together - {NOBODY}
