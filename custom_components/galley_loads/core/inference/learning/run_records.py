"""What settled runs taught: confident ones give their full power, and their levels."""

from collections.abc import Mapping
from typing import Final, TypedDict

from ..model.hypothesis import UNNAMED, ActiveLoad, Hypothesis, PastStep, RunId
from ..model.state_machine import StateMachine
from .learned_power import PowerBelief
from .usual_hours import UsualHours

CONFIDENT: Final = 0.9
"""Judgement, a confidence: a run below it teaches nothing."""
LEAST_STRETCH_S: Final = 15.0
"""Judgement, s: a briefer stretch at full power teaches no power."""
LEAST_DWELL_S: Final = 30.0
"""Judgement, s: what was on for less was rather a knob on its way to where it was
wanted."""


class RunRecordsState(TypedDict):
    """What `RunRecords` saves."""

    open: list[tuple[int, float, list[list[float]]]]
    dwells: list[tuple[int, float, list[list[float]]]]
    confidence: list[tuple[int, float, float]]


class RunRecords:
    """Collects full-power stretches of the runs that are being settled."""

    def __init__(
        self,
        machines: tuple[StateMachine, ...],
        beliefs: tuple[PowerBelief, ...],
        usual_hours: UsualHours,
    ) -> None:
        """Start without any."""
        self._usual_hours = usual_hours
        self._machines = machines
        self._beliefs = beliefs
        self._open: dict[RunId, list[list[float]]] = {}
        # By run, of each dwell at a level: its slot, its start, energy in Ws and time in s.
        self._dwells: dict[RunId, list[list[float]]] = {}
        self._confidence: dict[RunId, float] = {}

    def add(
        self,
        final: list[PastStep],
        best: Hypothesis,
        confidence: Mapping[RunId, float],
    ) -> None:
        """Take past steps that became final."""
        for past_step in final:
            if past_step.edge:
                continue
            seconds = past_step.end_s - past_step.start_s
            for load in past_step.loads:
                if load.index == UNNAMED:
                    continue
                key = load.run
                state = self._machines[load.index].states[load.state]
                stretches = self._open.setdefault(key, [])
                # What keeps warm may do so at a power of its own.
                heating = state.draw == "full" and not state.holding
                if heating and seconds >= LEAST_STRETCH_S:
                    stretches.append([load.power_w / state.low, seconds])
                if state.slot in self._beliefs[load.index].levels:
                    self._dwell(key, state.slot, load, seconds)
                if key in confidence:
                    self._confidence[key] = confidence[key]
        living = {p.run for p in best.loads}
        past = best.past
        while past is not None:
            living.update(p.run for p in past.loads)
            past = past.parent
        for key in [key for key in self._open if key not in living]:
            self._end(key)

    def _dwell(self, key: RunId, slot: int, load: ActiveLoad, seconds: float) -> None:
        """Go on with a run's dwell at a level, or begin another."""
        if load.partial:
            return
        dwells = self._dwells.setdefault(key, [])
        if not dwells or dwells[-1][:2] != [slot, load.since_s]:
            dwells.append([slot, load.since_s, 0.0, 0.0])
        dwells[-1][2] += load.power_w * seconds
        dwells[-1][3] += seconds

    def end_all(self) -> None:
        """Forget the runs that a gap cut off."""
        self._open.clear()
        self._dwells.clear()
        self._confidence.clear()

    def _end(self, key: RunId) -> None:
        stretches = sorted(self._open.pop(key))
        confidence = self._confidence.pop(key, 0.5)
        self._usual_hours.add(*key, confidence)
        dwells = self._dwells.pop(key, [])
        if confidence >= CONFIDENT:
            levels = self._beliefs[key[0]].levels
            for slot, _, energy_ws, seconds in dwells:
                if seconds >= LEAST_DWELL_S:
                    levels[int(slot)].add(energy_ws / seconds)
        if not stretches or confidence < CONFIDENT:
            return
        half = 0.5 * sum(seconds for _, seconds in stretches)
        for power_w, seconds in stretches:
            half -= seconds
            if half <= 0.0:
                self._beliefs[key[0]].add(power_w)
                return

    def snapshot(self) -> RunRecordsState:
        """Return the whole state, JSON-able."""
        return {
            "open": [(*run, _copied(rows)) for run, rows in self._open.items()],
            "dwells": [(*run, _copied(rows)) for run, rows in self._dwells.items()],
            "confidence": [(*run, sure) for run, sure in self._confidence.items()],
        }

    def restore(self, state: RunRecordsState) -> None:
        """Take over what `snapshot` gave."""
        self._open = {(i, s): _copied(v) for i, s, v in state["open"]}
        self._dwells = {(i, s): _copied(v) for i, s, v in state["dwells"]}
        self._confidence = {(i, s): v for i, s, v in state["confidence"]}


def _copied(rows: list[list[float]]) -> list[list[float]]:
    return [list(one) for one in rows]
