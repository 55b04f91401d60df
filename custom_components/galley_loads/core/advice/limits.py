"""What may run together: inverter, breakers and the bank's discharge limit."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum

from ..boat.boat import Boat, Supply
from ..meals.dish_cost import DishCost
from ..outlook.outlook_view import OutlookView


class LimitKind(StrEnum):
    """What is overloaded."""

    INVERTER = "inverter"
    BREAKER = "breaker"
    BANK = "bank"


@dataclass(frozen=True, slots=True)
class Overload:
    """One limit that would be exceeded; W for the inverter, A otherwise.

    `name` is the circuit's for a breaker, else empty. `alone` says that a single
    appliance exceeds it, so that cooking one after the other would not help.
    """

    kind: LimitKind
    name: str
    wanted: float
    allowed: float
    alone: bool


@dataclass(frozen=True, slots=True)
class Draw:
    """What a dish draws at its most: W by appliance, and W of no named appliance.

    A dish of which only the energy is known has neither: its peak is unknown, and so is
    whether it would overload anything.
    """

    appliances: Mapping[str, float]
    unnamed_w: float = 0.0

    @property
    def total_w(self) -> float:
        """Everything at once."""
        return sum(self.appliances.values()) + self.unnamed_w


def draw_of(view: OutlookView, cost: DishCost) -> Draw:
    """Return a dish's draw at its most, scaled to its peak where that was measured."""
    boat, page = view.boat, view.cookbook
    known = {a.name for a in boat.appliances}
    names = [name for name in cost.appliances if name in known]
    full = {name: page.full_power_w(boat, name) for name in names}
    total_w = sum(full.values())
    if not names:
        return Draw({}, cost.peak_w or 0.0)
    if cost.peak_w is not None and 0.0 < cost.peak_w < total_w:
        scale = cost.peak_w / total_w
        full = {name: power_w * scale for name, power_w in full.items()}
    return Draw(full)


def background_ac_w(view: OutlookView) -> float:
    """Return what the inverter is known to carry beside the galley, W.

    Nothing where its meter does not tell: a limit is only named from what is known.
    """
    return 0.0 if view.boat.inverter is None else view.ac_background_w or 0.0


def overloads(
    view: OutlookView, draws: Collection[Draw], other_ac_w: float = 0.0
) -> tuple[Overload, ...]:
    """Return the limits that these draws at once would exceed, the worst first.

    Args:
        view: what is known.
        draws: what runs at the same time.
        other_ac_w: what else the inverter carries.
    """
    boat = view.boat
    together: dict[str, float] = {}
    unnamed_w = 0.0
    for draw in draws:
        unnamed_w += draw.unnamed_w
        for name, power_w in draw.appliances.items():
            together[name] = max(together.get(name, 0.0), power_w)
    found = [
        *_inverter(boat, together, unnamed_w + other_ac_w),
        *_breakers(boat, together),
        *_bank(view, together, unnamed_w + other_ac_w),
    ]
    return tuple(sorted(found, key=lambda o: -o.wanted / o.allowed))


def _inverter(
    boat: Boat, together: Mapping[str, float], others_w: float
) -> list[Overload]:
    if boat.inverter is None:
        return []
    on_ac = [
        power_w
        for name, power_w in together.items()
        if boat.appliance(name).supply is Supply.AC
    ]
    wanted_w = sum(on_ac) + others_w
    allowed_w = boat.inverter.continuous_power_w
    if wanted_w <= allowed_w or not (on_ac or others_w):
        return []
    alone = max(on_ac, default=0.0) + others_w > allowed_w
    return [Overload(LimitKind.INVERTER, "", wanted_w, allowed_w, alone)]


def _breakers(boat: Boat, together: Mapping[str, float]) -> list[Overload]:
    found: list[Overload] = []
    for circuit in boat.circuits:
        currents = [
            power_w / circuit.voltage_v
            for name, power_w in together.items()
            if boat.appliance(name).circuit == circuit.name
        ]
        wanted_a = sum(currents)
        if wanted_a > circuit.breaker_current_a:
            alone = max(currents) > circuit.breaker_current_a
            found.append(
                Overload(
                    LimitKind.BREAKER,
                    circuit.name,
                    wanted_a,
                    circuit.breaker_current_a,
                    alone,
                )
            )
    return found


def _bank(
    view: OutlookView, together: Mapping[str, float], others_ac_w: float
) -> list[Overload]:
    """The bank must be able to carry it without the sun: a cloud comes without notice."""
    allowed_a = view.boat.bank.max_discharge_current_a
    if allowed_a is None or not (together or others_ac_w):
        return []

    def current_a(powers: Mapping[str, float]) -> float:
        on_ac = others_ac_w + sum(
            w for n, w in powers.items() if view.boat.appliance(n).supply is Supply.AC
        )
        on_dc = sum(powers.values()) + others_ac_w - on_ac
        drawn_w = view.conversion.dish_dc_w(on_ac) + on_dc
        # The background at the bank's side has the inverter's other loads within.
        rest_w = max(
            view.mean_background_w - view.conversion.dish_dc_w(others_ac_w), 0.0
        )
        total_w = drawn_w + rest_w
        voltage_v = view.load_voltage.under_w(total_w)
        return total_w / min(voltage_v, view.boat.bank.nominal_voltage_v)

    wanted_a = current_a(together)
    if wanted_a <= allowed_a:
        return []
    alone = any(current_a({name: w}) > allowed_a for name, w in together.items())
    return [Overload(LimitKind.BANK, "", wanted_a, allowed_a, alone or not together)]
