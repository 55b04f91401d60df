"""What a boat that cuts by itself would have done over the same days.

The simulated crew's relays move as they do. A cut opens the circuit on top of that, and its
true standby goes from the load, until somebody is about to use the circuit or already does:
then the crew closes it, a minute after the cut at the earliest. What is switched back soon
is kept on, so that a run is cut once and not again and again.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import count
from typing import Final

from alert_truth import Truths

from custom_components.galley_loads.core.boat.boat import Boat, CutRule
from custom_components.galley_loads.core.cutting import (
    Cut,
    CutFacts,
    CuttingRules,
    Stuck,
)
from custom_components.galley_loads.core.cutting.cutting_rules import (
    KEEP_AFTER_SWITCHING_BACK_S,
    SWITCHED_BACK_WITHIN_S,
)

BEFORE_USE_S: Final = 60.0
NOTICED_S: Final = 60.0


class AutoCuts:
    """Rules under which every circuit is cut without asking."""

    def __init__(self, boat: Boat, truths: Truths) -> None:
        """Begin with nothing cut."""
        circuits = tuple(replace(c, cut=CutRule.AUTO) for c in boat.circuits)
        self._boat = replace(boat, circuits=circuits)
        self._truths = truths
        tokens = count()
        self._rules = CuttingRules(self._boat, lambda: f"{next(tokens):016x}")
        self._open: dict[str, float] = {}

    def observe(self, moment: CutFacts) -> Sequence[tuple[str, bool]]:
        """Take a moment; return the circuits that are cut, and whether something on each ran."""
        at_s = moment.at_s
        for circuit, cut_s in tuple(self._open.items()):
            if not moment.relay_closed.get(circuit):
                del self._open[circuit]
            elif at_s - cut_s >= NOTICED_S and self._is_wanted(circuit, at_s):
                del self._open[circuit]
                if at_s - cut_s <= SWITCHED_BACK_WITHIN_S:
                    until_s = at_s + KEEP_AFTER_SWITCHING_BACK_S
                    self._rules.keep(circuit, at_s, until_s)
        sample, closed = moment.sample, dict(moment.relay_closed)
        for circuit in self._open:
            closed[circuit] = False
            if sample.load_w is not None:
                standby_w = self._truths.standby_w(circuit)
                sample = sample._replace(load_w=sample.load_w - standby_w)
        cuts = []
        outcomes = self._rules.observe(
            replace(moment, sample=sample, relay_closed=closed)
        )
        for outcome in outcomes:
            if isinstance(outcome, Cut):
                self._open[outcome.circuit] = at_s
                cuts.append((outcome.circuit, self._runs(outcome.circuit, at_s)))
            elif isinstance(outcome, Stuck):
                # No relay sticks here: another load moved in the same seconds, or a run
                # that was cut draws on in the simulation.
                self._rules.inspected(outcome.circuit)
        return cuts

    def _is_wanted(self, circuit: str, at_s: float) -> bool:
        return self._runs(circuit, at_s) or self._runs(circuit, at_s + BEFORE_USE_S)

    def _runs(self, circuit: str, at_s: float) -> bool:
        return any(
            self._truths.running(appliance.name, at_s)
            for appliance in self._boat.appliances
            if appliance.circuit == circuit
        )
