"""The book of standby: per appliance and per circuit, from the best evidence there is.

In order of trust: the appliance's own meter, the step of its circuit's relay, what the
owner states, the steps at switching on and off. Nothing that was learnt is quoted below
what the meter behind it can resolve.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final, TypedDict

from ..boat.boat import Appliance, Boat
from ..metering.load_sample import LoadSample
from ..stateful import Row, from_row, row
from .meter_resolution import MeterResolution, MeterResolutionState
from .metered_standby import OwnMeter, OwnMeterState
from .relay_steps import RelaySteps, RelayStepsState
from .small_steps import StepWatch, StepWatchState
from .switch_steps import SwitchSteps, SwitchStepsState

_EVERY_S: Final = 60.0
_FINE_METER_W: Final = 5.0
"""A meter as fine as this would have shown any standby worth switching off."""


class StandbySource(StrEnum):
    """Where a figure comes from."""

    METER = "meter"
    RELAY = "relay"
    STATED = "stated"
    SWITCHING = "switching"


@dataclass(frozen=True, slots=True)
class StandbyFigure:
    """A standby power and its source.

    `power_w` is on the AC side. `floor_w` is what the meter behind the figure resolves;
    0 for a stated figure. `at_least` says of a circuit's figure that it is the sum of
    what is known, and that something on the circuit is not.
    """

    power_w: float
    source: StandbySource
    floor_w: float = 0.0
    at_least: bool = False


class StandbyLearnerState(TypedDict):
    """What `StandbyLearner` saves."""

    load: MeterResolutionState
    watch: StepWatchState
    meters: dict[str, OwnMeterState]
    relays: RelayStepsState
    switches: SwitchStepsState
    open: list[str]
    figures_s: float | None
    figures: dict[str, Row]
    unsplit_w: dict[str, float]


class StandbyLearner:
    """Learns and tells the standby of one boat's appliances and circuits."""

    def __init__(self, boat: Boat) -> None:
        """Start from what the boat's description states."""
        self._boat = boat
        self._load = MeterResolution()
        self._watch = StepWatch()
        self._meters = {a.name: OwnMeter() for a in boat.appliances if a.power_sensor}
        self._relays = RelaySteps(
            {
                circuit.name: sum(a.circuit == circuit.name for a in boat.appliances)
                for circuit in boat.circuits
                if circuit.relay is not None
            }
        )
        self._has_relays = any(circuit.relay is not None for circuit in boat.circuits)
        self._switches = SwitchSteps(
            [a.name for a in boat.appliances if a.name not in self._meters]
        )
        self._open: frozenset[str] = frozenset()
        self._figures_s: float | None = None
        self._renew()

    def observe(self, sample: LoadSample, running: Collection[str]) -> None:
        """Take a load sample and the names of the appliances that run as it begins."""
        at_s, load_w = sample.at_s, sample.load_w
        names = frozenset(running)
        self._open = sample.open_circuits
        if sample.metered_w:
            self._observe_meters(sample, names)
        if load_w is None:
            self._load.interrupt()
        elif not names:
            self._load.observe(load_w)
        if self._has_relays:
            self._relays.observe(at_s, load_w, sample.open_circuits, idle=not names)
        step = self._watch.observe(at_s, load_w, self._load.floor_w)
        self._switches.observe(at_s, step, names)
        if self._figures_s is None or at_s - self._figures_s >= _EVERY_S:
            # Medians over everything kept: once a minute is often enough. By the clock of
            # the samples, so that it does not matter when somebody asks.
            self._figures_s = at_s
            self._renew()

    def start_over(self) -> None:
        """Wait for new steps and keep the figures: the clock was set."""
        self._watch = StepWatch()
        self._figures_s = None
        self._relays.start_over()
        self._switches.start_over()
        for meter in self._meters.values():
            meter.start_over()

    def _observe_meters(self, sample: LoadSample, running: frozenset[str]) -> None:
        for name, power_w in sample.metered_w:
            meter = self._meters.get(name)
            if meter is not None:
                circuit = self._boat.appliance(name).circuit
                idle = circuit not in sample.open_circuits and name not in running
                meter.observe(sample.at_s, power_w, idle=idle)

    def figure(self, name: str) -> StandbyFigure | None:
        """Return an appliance's standby with its source, None if not known.

        Raises:
            KeyError: the boat has no appliance of that name.
        """
        return self._figures[name]

    def standby_w(self, name: str, at_s: float | None = None) -> float | None:
        """Return an appliance's standby power on the AC side, W, None if not known.

        With `at_s` it is what the appliance drew then, had it been idle: 0 while it was
        switched off at the wall, as far as its steps tell. The circuit's relay is not
        looked at.
        """
        figure = self.figure(name)
        if figure is None:
            return None
        if at_s is not None and figure.source is StandbySource.SWITCHING:
            return figure.power_w if self._switches.live(name, at_s) else 0.0
        return figure.power_w

    def present_w(
        self, name: str, at_s: float, running: Collection[str]
    ) -> float | None:
        """Return the standby that an appliance draws now, W.

        It is 0 while it runs and while its circuit is open, None where not known.
        """
        appliance = self._boat.appliance(name)
        if name in running or (appliance.circuit in self._open):
            return 0.0
        meter = self._meters.get(name)
        if meter is not None and meter.present_w is not None:
            figure = self.figure(name)
            if figure is not None and figure.source is StandbySource.METER:
                return meter.present_w if meter.present_w >= figure.floor_w else 0.0
        return self.standby_w(name, at_s)

    def circuit_figure(self, circuit: str) -> StandbyFigure | None:
        """Return the standby of a whole circuit, None if nothing of it is known.

        It is the sum of its appliances' figures and of what was measured of them together
        and belongs to none in particular; so the two never contradict each other.
        """
        parts = [
            self.figure(a.name) for a in self._boat.appliances if a.circuit == circuit
        ]
        known = [figure for figure in parts if figure is not None]
        unsplit_w = self._unsplit_w.get(circuit)
        if unsplit_w is None:
            if not known:
                return None
            source = max(
                (figure.source for figure in known), key=list(StandbySource).index
            )
        else:
            known.append(
                StandbyFigure(unsplit_w, StandbySource.RELAY, self._load.floor_w)
            )
            source = StandbySource.RELAY
        return StandbyFigure(
            sum(figure.power_w for figure in known),
            source,
            max(figure.floor_w for figure in known),
            at_least=unsplit_w is None and None in parts,
        )

    @property
    def unsplit_w(self) -> Mapping[str, float]:
        """What was measured of circuits and belongs to none of their appliances, W."""
        return self._unsplit_w

    def circuit_standby_w(self, circuit: str) -> float | None:
        """Return what a circuit draws on standby at the least, W, None if not known."""
        figure = self.circuit_figure(circuit)
        return None if figure is None else figure.power_w

    def likely_w(self, circuit: str) -> float:
        """Return what a circuit probably draws on standby, W; not a figure to quote.

        It is what is known of it; where the relay's steps showed less than the meter
        resolves it is what they showed; otherwise appliances of unknown standby count
        with what their kind usually draws.
        """
        figure = self.circuit_figure(circuit)
        relay_w = self._relays.standby_w(circuit)
        if figure is not None and figure.source is StandbySource.RELAY:
            return figure.power_w
        if relay_w is not None and self._load.floor_w <= _FINE_METER_W:
            return relay_w
        likely_w = 0.0
        for appliance in self._boat.appliances:
            if appliance.circuit == circuit:
                known = self.figure(appliance.name)
                default_w = appliance.kind.default_standby_w
                likely_w += default_w if known is None else known.power_w
        return likely_w

    @property
    def load_floor_w(self) -> float:
        """The smallest step that the boat's load tells, W."""
        return self._load.floor_w

    def _renew(self) -> None:
        """Weigh the evidence anew; the one place where figures come from."""
        self._figures: dict[str, StandbyFigure | None] = {}
        self._unsplit_w: dict[str, float] = {}
        for circuit in {a.circuit for a in self._boat.appliances}:
            members = [a for a in self._boat.appliances if a.circuit == circuit]
            self._figures |= {a.name: self._by_itself(a) for a in members}
            total_w = None if circuit is None else self._relays.standby_w(circuit)
            if circuit is not None and total_w is not None:
                self._split(circuit, members, total_w)

    def _by_itself(self, appliance: Appliance) -> StandbyFigure | None:
        """Return what is known of an appliance without its circuit's relay."""
        meter = self._meters.get(appliance.name)
        if meter is not None and (power_w := meter.standby_w) is not None:
            return StandbyFigure(power_w, StandbySource.METER, meter.resolution.floor_w)
        if appliance.standby_power_w is not None:
            return StandbyFigure(appliance.standby_power_w, StandbySource.STATED)
        floor_w = self._load.floor_w
        switch_w = self._switches.standby_w(appliance.name)
        if switch_w is not None and switch_w >= floor_w:
            return StandbyFigure(switch_w, StandbySource.SWITCHING, floor_w)
        return None

    def _split(self, circuit: str, members: list[Appliance], total_w: float) -> None:
        """Split a circuit's measured standby among its appliances.

        What their own meters show is taken off first. The rest is the appliance's own
        when one is left, and split as the owner states where that is stated of all. Else
        an appliance has what is known of it by itself, never more than was measured, and
        the remainder is nobody's in particular.
        """
        floor_w = self._load.floor_w
        metered_w = 0.0
        sharing: list[Appliance] = []
        for member in members:
            figure = self._figures[member.name]
            if figure is not None and figure.source is StandbySource.METER:
                metered_w += figure.power_w
            else:
                sharing.append(member)
        if not sharing:
            return
        rest_w = max(0.0, total_w - metered_w)
        if total_w < floor_w or total_w <= 0.0:
            # Less than the meter resolves: no figure to quote.
            self._figures |= dict.fromkeys([a.name for a in sharing])
            return
        stated_w = [a.standby_power_w for a in sharing if a.standby_power_w is not None]
        if len(sharing) == 1:
            parts_w = {sharing[0].name: rest_w}
        elif len(stated_w) == len(sharing) and sum(stated_w) > 0.0:
            scale = rest_w / sum(stated_w)
            parts_w = {
                a.name: scale * w for a, w in zip(sharing, stated_w, strict=True)
            }
        else:
            self._unsplit_w[circuit] = self._cap(sharing, rest_w)
            return
        small_w = 0.0
        for name, part_w in parts_w.items():
            is_clear = part_w > 0.0 and part_w >= floor_w
            self._figures[name] = (
                StandbyFigure(part_w, StandbySource.RELAY, floor_w)
                if is_clear
                else None
            )
            small_w += 0.0 if is_clear else part_w
        if small_w > 0.0:
            self._unsplit_w[circuit] = small_w

    def _cap(self, sharing: list[Appliance], rest_w: float) -> float:
        """Let no known figures exceed what was measured; return what they leave, W."""
        known = {
            a.name: figure
            for a in sharing
            if (figure := self._figures[a.name]) is not None
        }
        sum_w = sum(figure.power_w for figure in known.values())
        if sum_w <= rest_w:
            return rest_w - sum_w
        for name, figure in known.items():
            self._figures[name] = StandbyFigure(
                figure.power_w * rest_w / sum_w, StandbySource.RELAY, self._load.floor_w
            )
        return 0.0

    def snapshot(self) -> StandbyLearnerState:
        """Return the state as JSON-able data."""
        return {
            "load": self._load.snapshot(),
            "watch": self._watch.snapshot(),
            "meters": {name: meter.snapshot() for name, meter in self._meters.items()},
            "relays": self._relays.snapshot(),
            "switches": self._switches.snapshot(),
            "open": sorted(self._open),
            "figures_s": self._figures_s,
            "figures": {
                name: row(figure)
                for name, figure in self._figures.items()
                if figure is not None
            },
            "unsplit_w": dict(self._unsplit_w),
        }

    def restore(self, state: StandbyLearnerState) -> None:
        """Take up a state from `snapshot` of the same boat, or of what it was before a change."""
        self._load.restore(state["load"])
        self._watch.restore(state["watch"])
        for name, meter in self._meters.items():
            if name in state["meters"]:
                meter.restore(state["meters"][name])
        self._relays.restore(state["relays"])
        self._switches.restore(state["switches"])
        self._open = frozenset(state["open"])
        self._figures_s = state["figures_s"]
        figures = {
            name: from_row(StandbyFigure, values)
            for name, values in state["figures"].items()
        }
        self._figures = {a.name: figures.get(a.name) for a in self._boat.appliances}
        circuits = {circuit.name for circuit in self._boat.circuits}
        self._unsplit_w = {
            name: power_w
            for name, power_w in state["unsplit_w"].items()
            if name in circuits
        }
