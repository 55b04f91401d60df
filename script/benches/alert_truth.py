"""What truly was aboard a simulated boat, asked the way the alerts put it."""

from collections.abc import Iterator, Sequence
from typing import Any

from custom_components.galley_loads.core.boat.boat import Boat
from demo.simulator import Simulation
from demo.simulator.truth import TrueRun


class Truths:
    """What truly was, asked the way the alerts put it."""

    def __init__(self, simulation: Simulation, boat: Boat) -> None:
        """Look at one simulated span."""
        self.sim, self.boat = simulation, boat
        self.live: dict[str, list[tuple[float, bool]]] = {}
        relays = {c.relay: c.name for c in boat.circuits}
        for entity_id, state, at_s in simulation.switches:
            self.live.setdefault(relays[entity_id], []).append((at_s, state == "on"))

    def running(self, name: str, at_s: float, margin_s: float = 0.0) -> bool:
        """Whether an appliance truly runs, give or take some seconds."""
        return any(
            run.appliance == name
            and run.start_s - margin_s <= at_s <= run.end_s + margin_s
            for run in self.sim.truth.runs
        )

    def run_at(self, name: str, at_s: float, slack_s: float) -> Any:
        """Return the true run that goes on then or has just ended."""
        for run in self.sim.truth.runs:
            if run.appliance == name and run.start_s <= at_s <= run.end_s + slack_s:
                return run
        return None

    def power_w(self, name: str, from_s: float, to_s: float) -> float:
        """Return an appliance's true mean power."""
        return self.sim.power[name].mean(from_s, to_s)

    def has_rested(self, run: TrueRun, at_s: float) -> bool:
        """Whether an appliance's thermostat has switched it off once in a run until then."""
        rated_w = self.boat.appliance(run.appliance).rated_power_w
        return any(
            self.power_w(run.appliance, begin_s, begin_s + 10.0) < 0.5 * rated_w
            for begin_s in range(int(run.start_s) + 60, int(at_s) - 9, 5)
        )

    def cooked_wh(self, from_s: float, to_s: float, at_s: float) -> list[float]:
        """Return the energies of the meals cooked in a span that are over by `at_s`."""
        return [
            meal.energy_wh
            for meal in self.sim.truth.meals
            if meal.start_s < to_s and from_s < meal.end_s <= at_s
        ]

    def is_live(self, circuit: str, at_s: float) -> bool:
        """Whether a circuit's relay is closed."""
        closed = False
        for changed_s, state in self.live.get(circuit, ()):
            if changed_s > at_s:
                break
            closed = state
        return closed

    def standby_w(self, circuit: str) -> float:
        """Return a circuit's true standby."""
        return sum(
            self.sim.truth.standby_w[a.name]
            for a in self.boat.appliances
            if a.circuit == circuit
        )

    def soc_lowest_unaided(self, from_s: float, to_s: float) -> float:
        """Return what the lowest charge of a span would be without the engine, percent.

        A crew that is told of a reserve at risk may start the engine; what it gave is
        taken off. An engine that ran already is not: it was seen when the bank was judged.
        """
        truth, bank = self.sim.truth, self.sim.boat.bank
        first = int((from_s - truth.start_s) / 60)
        last = max(int((to_s - truth.start_s) / 60), first + 1)
        ran = truth.engine_w[first] > 0.0
        bank_wh = bank.capacity_ah * 3.3 * bank.cells
        given_wh, lowest = 0.0, 100.0
        for soc, engine_w in zip(
            truth.soc[first:last], truth.engine_w[first:last], strict=True
        ):
            ran = ran and engine_w > 0.0
            if not ran:
                given_wh += engine_w / 60.0
            lowest = min(lowest, soc - 100.0 * given_wh / bank_wh)
        return lowest

    def solar_w(self, from_s: float, to_s: float) -> float:
        """Return the true mean of the sun, W."""
        truth = self.sim.truth
        first = int((from_s - truth.start_s) / 60)
        last = max(int((to_s - truth.start_s) / 60), first + 1)
        part = truth.solar_w[first:last]
        return sum(part) / len(part) if part else 0.0

    def peak_w(self, names: Sequence[str], at_s: float) -> float:
        """Return the greatest true sum of some appliances' powers in the last minutes."""
        return max(
            sum(self.sim.power[name].value(at_s - back) for name in names)
            for back in range(0, 180, 5)
        )

    def spells(self) -> Iterator[tuple[str, float, float]]:
        """Yield circuit, begin and end of every idle spell of a live circuit."""
        for circuit in self.boat.circuits:
            names = {a.name for a in self.boat.appliances if a.circuit == circuit.name}
            uses = sorted(
                (r.start_s, r.end_s)
                for r in self.sim.truth.runs
                if r.appliance in names
            )
            changes = self.live.get(circuit.name, [])
            for (from_s, closed), (to_s, _) in zip(
                changes, [*changes[1:], (self.sim.truth.end_s, False)], strict=True
            ):
                if not closed:
                    continue
                begin_s = from_s
                for start_s, end_s in uses:
                    if end_s < from_s or start_s > to_s:
                        continue
                    if start_s > begin_s:
                        yield circuit.name, begin_s, start_s
                    begin_s = max(begin_s, end_s)
                if begin_s < to_s:
                    yield circuit.name, begin_s, to_s
