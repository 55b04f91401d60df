"""What may be cut at all: decided by the boat's description alone.

A kind says of itself whether it may be cut: a circuit with anything else on it (a fridge,
a bilge pump, instruments, a detector) is watched and left alone.
"""

from dataclasses import replace

from ..boat.boat import Boat, Circuit, CutRule
from ..kinds.traits import MayCut
from .holding import hides
from .outcomes import Reason


def forbidden(boat: Boat, circuit: Circuit) -> Reason | None:
    """Return why a circuit may never be cut, None if it may."""
    if circuit.relay is None:
        return Reason.NO_RELAY
    if circuit.cut is CutRule.NEVER:
        return Reason.NEVER
    if circuit.other_loads:
        return Reason.OTHER_LOADS
    kinds = {a.kind for a in boat.appliances if a.circuit == circuit.name}
    if not kinds:
        return Reason.NO_APPLIANCE
    for kind in sorted(kinds):
        if kind.traits.may_cut is MayCut.NEVER:
            return Reason(kind.traits.never_cut_because)
    if sum(other.relay == circuit.relay for other in boat.circuits) > 1:
        return Reason.SHARED_RELAY
    return None


def with_rule_allowed(boat: Boat, circuit: Circuit) -> Circuit:
    """Return the circuit with the rule that its appliances' kinds allow.

    A kind that may only be cut when somebody is asked makes *auto* an *ask*, and so does
    an appliance whose work nothing may show.
    """
    only_asked = any(
        a.kind.traits.may_cut is MayCut.ONLY_ASKED or hides(a)
        for a in boat.appliances
        if a.circuit == circuit.name
    )
    if only_asked and circuit.cut is CutRule.AUTO:
        return replace(circuit, cut=CutRule.ASK)
    return circuit
