"""What may be cut at all: decided by the boat's description alone.

The list of kinds is one of what may be cut, not of what may not: a circuit with anything
else on it (a fridge, a bilge pump, instruments, a detector) is watched and left alone.
"""

from typing import Final

from ..boat.boat import Boat, Circuit, CutRule
from ..kinds.kind import Kind
from .outcomes import Reason

GALLEY_KINDS: Final = frozenset(
    {
        Kind.INDUCTION_HOB,
        Kind.ELECTRIC_HOB,
        Kind.OVEN,
        Kind.WATER_BATH,
        Kind.KETTLE,
        Kind.TOASTER,
        Kind.MICROWAVE,
        Kind.RICE_COOKER,
        Kind.SLOW_COOKER,
        Kind.PRESSURE_COOKER,
        Kind.BREAD_MAKER,
        Kind.COFFEE_MAKER,
        Kind.WATER_HEATER,
    }
)
"""Kinds that may lose their supply when idle; `other` could be anything."""

RUN_DOWN_S: Final = {
    Kind.INDUCTION_HOB: 10 * 60.0,
    Kind.ELECTRIC_HOB: 15 * 60.0,
    Kind.OVEN: 30 * 60.0,
}
"""How long fans need after a run to cool what was hot (common practice, no source)."""


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
    if not kinds <= GALLEY_KINDS:
        return Reason.NOT_GALLEY
    if sum(other.relay == circuit.relay for other in boat.circuits) > 1:
        return Reason.SHARED_RELAY
    return None
