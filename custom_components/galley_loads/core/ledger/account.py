"""The account of where the energy went, and where it came from.

Load = runs + standby + background + unassigned, at any moment. Within a settled segment
each share of the load is a constant fraction of what was measured, so the sum closes
exactly however the load wanders.

Where the boat's load is not measured, an appliance's own meter goes on telling its part of
it: that much flowed, and is counted as load. The rest of the load stays not measured.

Sources are shared in proportion: at every moment each load takes from the sun, from other
charging and from the bank what these give to all loads together. Of the three meanings a
solar share can have (coincident in proportion, marginal after the base load, cooking
first) this is the first.
"""

from collections.abc import Callable, Container, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from ..boat.boat import Boat
from ..inference.model.activity import RunKey, Segment
from .cells import Cell
from .load_split import split_load

SECONDS_PER_HOUR: Final = 3600.0

type StandbyLookup = Callable[[str], float | None]


@dataclass(slots=True)
class Share:
    """What one load took: AC-side energy, charge at the bank, and its origin."""

    energy_wh: float = 0.0
    bank_ah: float = 0.0
    drawn_ah: float = 0.0
    solar_wh: float = 0.0

    def add(self, other: Share) -> None:
        """Add what another span took."""
        self.energy_wh += other.energy_wh
        self.bank_ah += other.bank_ah
        self.drawn_ah += other.drawn_ah
        self.solar_wh += other.solar_wh


@dataclass(frozen=True, slots=True)
class Flow:
    """The account of one settled span.

    `own_meters_wh` is the part of `load_wh` that appliances' own meters told in
    `unmeasured_s`, the seconds for which nobody measured the load as a whole.
    `net_ah` is what a battery monitor counted (positive: out of the bank), None where
    neither current nor power of the bank was known. `net_unknown_s` and `sun_unknown_s` are
    the seconds for which the meters of the bank and of the sun told nothing; without load and
    bank nobody can say either what the sun gave to what an own meter told.
    """

    start_s: float
    end_s: float
    load_wh: float
    runs: dict[RunKey, Share] = field(default_factory=dict)
    standby_wh: dict[str, float] = field(default_factory=dict)
    background_wh: float = 0.0
    unassigned_wh: float = 0.0
    solar_wh: float = 0.0
    other_charging_wh: float = 0.0
    charge_wh: float = 0.0
    discharge_wh: float = 0.0
    net_ah: float | None = None
    unmeasured_s: float = 0.0
    soc: float | None = None
    net_unknown_s: float = 0.0
    sun_unknown_s: float = 0.0
    own_meters_wh: float = 0.0


def idle_standby(
    boat: Boat,
    running: Container[str],
    open_circuits: Container[str | None],
    standby_w: StandbyLookup,
) -> dict[str, float]:
    """Return the standby power of each appliance that is live and not running, W."""
    idle: dict[str, float] = {}
    for appliance in boat.appliances:
        if appliance.name in running or appliance.circuit in open_circuits:
            continue
        power_w = standby_w(appliance.name)
        if power_w:
            idle[appliance.name] = power_w
    return idle


def account(
    boat: Boat, segment: Segment, cells: Iterable[Cell], standby_w: StandbyLookup
) -> Flow:
    """Return where the energy of one segment went.

    `cells` are the measured cells of the segment's time. `standby_w` tells an appliance's
    standby power in W, or None where it is not known.
    """
    cells = list(cells)
    measured = [cell for cell in cells if cell.load_ws is not None]
    load_ws = sum([cell.load_ws or 0.0 for cell in measured])
    measured_s = sum([cell.end_s - cell.start_s for cell in measured])
    span_s = segment.end_s - segment.start_s
    net_as = [net for cell in cells if (net := _net_as(cell, boat)) is not None]
    net_s = sum([cell.net_s or cell.battery_s for cell in cells])
    charge_ws = sum([cell.battery_ws + cell.discharge_ws for cell in cells])

    runs = {activity.run: Share() for activity in segment.activities}
    standby_wh: dict[str, float] = {}
    background_wh = unassigned_wh = 0.0
    if load_ws > 0.0:
        mean_w, hours = load_ws / measured_s, measured_s / SECONDS_PER_HOUR
        running = {activity.appliance for activity in segment.activities}
        dead = cells[0].open_circuits
        idle_w = idle_standby(boat, running, dead, standby_w)
        split = split_load(boat, mean_w, segment, idle_w)
        for run, power_w in split.runs_w.items():
            if power_w > 0.0:
                _charge(runs[run], power_w / mean_w, measured, boat)
        standby_wh = {
            name: power_w * hours for name, power_w in split.standby_w.items()
        }
        background_wh = split.background_w * hours
        unassigned_wh = split.unnamed_w * hours
    own_ws, sunless_s = _charge_by_own_meters(boat, segment, cells, runs)
    solar_s = sum([cell.solar_s for cell in cells]) - sunless_s
    return Flow(
        segment.start_s,
        segment.end_s,
        (load_ws + own_ws) / SECONDS_PER_HOUR,
        runs=runs,
        standby_wh=standby_wh,
        background_wh=background_wh,
        unassigned_wh=unassigned_wh,
        solar_wh=sum([cell.solar_ws for cell in cells]) / SECONDS_PER_HOUR,
        other_charging_wh=sum([cell.other_ws for cell in cells]) / SECONDS_PER_HOUR,
        charge_wh=charge_ws / SECONDS_PER_HOUR,
        discharge_wh=sum([cell.discharge_ws for cell in cells]) / SECONDS_PER_HOUR,
        net_ah=sum(net_as) / SECONDS_PER_HOUR if net_as else None,
        unmeasured_s=max(0.0, span_s - measured_s),
        soc=next((c.soc for c in reversed(cells) if c.soc is not None), None),
        net_unknown_s=max(0.0, span_s - net_s),
        sun_unknown_s=max(0.0, span_s - solar_s),
        own_meters_wh=own_ws / SECONDS_PER_HOUR,
    )


def _charge_by_own_meters(
    boat: Boat, segment: Segment, cells: Iterable[Cell], runs: Mapping[RunKey, Share]
) -> tuple[float, float]:
    """Give runs what their own meters told while the load was not measured.

    Return their energy in Ws, and for how many seconds of known sun nobody can say what
    share of it was theirs.
    """
    own_w = {
        a.run: a.power_w
        for a in segment.activities
        if a.power_w > 0.0 and boat.has_meter(a.appliance)
    }
    if not own_w:
        return 0.0, 0.0
    total_w = sum(own_w.values())
    told = [
        replace(cell, load_ws=total_w * cell.duration_s)
        for cell in cells
        if cell.load_ws is None
    ]
    for run, power_w in own_w.items():
        _charge(runs[run], power_w / total_w, told, boat)
    return (
        sum([cell.load_ws or 0.0 for cell in told]),
        sum([cell.solar_s for cell in told if cell.battery_s == 0.0]),
    )


def _net_as(cell: Cell, boat: Boat) -> float | None:
    """Return the charge that a battery monitor counted out of the bank, As.

    Where only the power is told, it is taken at the bank's nominal voltage, as all else is.
    """
    if cell.net_s > 0.0:
        return cell.net_as
    if cell.battery_s > 0.0:
        return -cell.battery_ws / boat.bank.nominal_voltage_v
    return None


def _charge(share: Share, fraction: float, cells: Iterable[Cell], boat: Boat) -> None:
    """Give one load its fraction of what flowed in each cell."""
    conversion = boat.conversion
    nominal_v = boat.bank.nominal_voltage_v
    for cell in cells:
        energy_ws = (cell.load_ws or 0.0) * fraction
        voltage_v = cell.voltage_vs / cell.voltage_s if cell.voltage_s else nominal_v
        charge_ah = energy_ws / conversion / voltage_v / SECONDS_PER_HOUR
        from_sun, from_bank = origin(cell, conversion)
        share.energy_wh += energy_ws / SECONDS_PER_HOUR
        share.bank_ah += charge_ah
        share.drawn_ah += charge_ah * from_bank
        share.solar_wh += energy_ws * from_sun / SECONDS_PER_HOUR


def origin(cell: Cell, conversion: float) -> tuple[float, float]:
    """Return the sun's and the bank's part of what a cell's loads took, each 0 to 1.

    The bank's discharge is measured where there is a meter for it, otherwise it is what
    the sun and other charging left uncovered. A boat that tells nothing of either lives
    off its bank.
    """
    solar_ws, other_ws = cell.solar_ws, cell.other_ws
    need_ws = (cell.load_ws or 0.0) / conversion
    uncovered_ws = max(0.0, need_ws - solar_ws - other_ws)
    untold_ws = 0.0
    if cell.battery_s > 0.0:
        discharge_ws = cell.discharge_ws
        if cell.solar_s == 0.0:
            # No meter of the sun: whatever bank and chargers did not give came from
            # elsewhere, and nobody can say whether from the sun.
            untold_ws = max(0.0, uncovered_ws - discharge_ws)
    else:
        discharge_ws = uncovered_ws
    total_ws = solar_ws + other_ws + discharge_ws + untold_ws
    if total_ws <= 0.0:
        return 0.0, 1.0
    return solar_ws / total_ws, discharge_ws / total_ws
