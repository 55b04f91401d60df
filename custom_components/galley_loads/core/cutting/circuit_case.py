"""What stands with one circuit: its use, its cut, and what was said about it."""

from dataclasses import dataclass, field
from typing import TypedDict

from ..boat.boat import Boat, Circuit
from ..stateful import Row, from_row, row
from .idle_time import CircuitWatch, CircuitWatchState
from .outcomes import Reason, Trouble
from .permission import forbidden, with_rule_allowed
from .verification import Verification


class CaseState(TypedDict):
    """What `Case` saves."""

    watch: CircuitWatchState
    keep_until_s: float
    cut_s: float | None
    stuck: Trouble | None
    verification: Row | None
    asked_occasion_s: float | None
    refused_occasion_s: float | None
    refused: list[Reason]
    withdrawn_occasion_s: float | None
    saved_wh: float


@dataclass(slots=True)
class Case:
    """One circuit under the rules.

    `forbidden` is why the boat's description rules a cut out. `cut_s` is when the rules
    opened the circuit, None once it is closed again. Times are Unix seconds; the ones
    called occasion name the idle spell for which something was said.
    """

    watch: CircuitWatch
    forbidden: Reason | None
    keep_until_s: float = 0.0
    cut_s: float | None = None
    stuck: Trouble | None = None
    verification: Verification | None = None
    asked_occasion_s: float | None = None
    refused_occasion_s: float | None = None
    refused: set[Reason] = field(default_factory=set)
    withdrawn_occasion_s: float | None = None
    saved_wh: float = 0.0

    @classmethod
    def of(cls, boat: Boat, circuit: Circuit) -> Case:
        """Return the case of a circuit that has not been looked at yet."""
        allowed = with_rule_allowed(boat, circuit)
        return cls(CircuitWatch(boat, allowed), forbidden(boat, circuit))

    @property
    def was_withdrawn(self) -> bool:
        """Whether a cut of this idle spell was ordered and not permitted."""
        occasion_s = self.watch.occasion_s
        return occasion_s is not None and occasion_s == self.withdrawn_occasion_s

    @property
    def circuit(self) -> Circuit:
        """The circuit."""
        return self.watch.circuit

    def start_over(self, at_s: float, shift_s: float) -> None:
        """Go on at `at_s`: the clock was set by `shift_s`; spans that run go on."""
        self.watch.start_over(at_s)
        self.keep_until_s += shift_s
        if self.cut_s is not None:
            self.cut_s += shift_s
        if self.verification is not None:
            self.verification.cut_s += shift_s
        self.asked_occasion_s = self.refused_occasion_s = None
        self.withdrawn_occasion_s = None
        self.refused = set()

    def snapshot(self) -> CaseState:
        """Return the state as JSON-able data."""
        verification = self.verification
        return {
            "watch": self.watch.snapshot(),
            "keep_until_s": self.keep_until_s,
            "cut_s": self.cut_s,
            "stuck": self.stuck,
            "verification": None if verification is None else row(verification),
            "asked_occasion_s": self.asked_occasion_s,
            "refused_occasion_s": self.refused_occasion_s,
            "refused": sorted(self.refused),
            "withdrawn_occasion_s": self.withdrawn_occasion_s,
            "saved_wh": self.saved_wh,
        }

    def restore(self, state: CaseState) -> None:
        """Take up a state from `snapshot`."""
        verification = state["verification"]
        self.watch.restore(state["watch"])
        self.keep_until_s = state["keep_until_s"]
        self.cut_s = state["cut_s"]
        self.stuck = state["stuck"]
        self.verification = (
            None if verification is None else from_row(Verification, verification)
        )
        self.asked_occasion_s = state["asked_occasion_s"]
        self.refused_occasion_s = state["refused_occasion_s"]
        self.refused = set(state["refused"])
        self.withdrawn_occasion_s = state["withdrawn_occasion_s"]
        self.saved_wh = state["saved_wh"]
