"""The book of standby: per appliance and per circuit, from the best evidence there is.

In order of trust: the appliance's own meter, the step of its circuit's relay, what the
owner states, the steps at switching on and off. Nothing that was learnt is quoted below
what the meter behind it can resolve.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

from ..boat.boat import Appliance, Boat
from ..metering.load_sample import LoadSample
from .meter_resolution import MeterResolution
from .metered_standby import OwnMeter
from .relay_steps import RelaySteps
from .small_steps import StepWatch
from .switch_steps import SwitchSteps

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
    0 for a stated figure.
    """

    power_w: float
    source: StandbySource
    floor_w: float = 0.0


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

    def _renew(self) -> None:
        self._figures = {a.name: self._weigh(a) for a in self._boat.appliances}

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
        """Return the standby of a whole circuit, None if not known."""
        relay_w = self._relays.standby_w(circuit)
        floor_w = self._load.floor_w
        if relay_w is not None:
            if relay_w < floor_w or relay_w <= 0:
                return None
            return StandbyFigure(relay_w, StandbySource.RELAY, floor_w)
        figures = [
            self.figure(a.name) for a in self._boat.appliances if a.circuit == circuit
        ]
        known = [figure for figure in figures if figure is not None]
        if not known:
            return None
        weakest = max(
            known, key=lambda figure: list(StandbySource).index(figure.source)
        )
        return StandbyFigure(
            sum(figure.power_w for figure in known),
            weakest.source,
            max(figure.floor_w for figure in known),
        )

    def circuit_standby_w(self, circuit: str) -> float | None:
        """Return what a circuit draws on standby, W, None if not known."""
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

    def _weigh(self, appliance: Appliance) -> StandbyFigure | None:
        meter = self._meters.get(appliance.name)
        if meter is not None and (power_w := meter.standby_w) is not None:
            return StandbyFigure(power_w, StandbySource.METER, meter.resolution.floor_w)
        relay_w = self._share_of_relay(appliance)
        floor_w = self._load.floor_w
        if relay_w is not None:
            if relay_w < floor_w or relay_w <= 0:
                return None
            return StandbyFigure(relay_w, StandbySource.RELAY, floor_w)
        if appliance.standby_power_w is not None:
            return StandbyFigure(appliance.standby_power_w, StandbySource.STATED)
        switch_w = self._switches.standby_w(appliance.name)
        if switch_w is not None and switch_w >= floor_w:
            return StandbyFigure(switch_w, StandbySource.SWITCHING, floor_w)
        return None

    def _share_of_relay(self, appliance: Appliance) -> float | None:
        """Return an appliance's part of its circuit's measured standby, W.

        Meters of the circuit's other appliances are taken off first. What remains is the
        appliance's own when no other is left; between several it is split as the owner
        states them, and otherwise it is nobody's in particular.
        """
        if appliance.circuit is None:
            return None
        total_w = self._relays.standby_w(appliance.circuit)
        if total_w is None:
            return None
        sharing: list[Appliance] = []
        for other in self._boat.appliances:
            if other.circuit != appliance.circuit:
                continue
            meter = self._meters.get(other.name)
            metered_w = None if meter is None else meter.standby_w
            if metered_w is None:
                sharing.append(other)
            else:
                total_w -= metered_w
        total_w = max(total_w, 0.0)
        if sharing == [appliance]:
            return total_w
        stated_w = [other.standby_power_w for other in sharing]
        sum_w = sum(power_w for power_w in stated_w if power_w is not None)
        if None in stated_w or sum_w <= 0 or appliance.standby_power_w is None:
            return None
        return total_w * appliance.standby_power_w / sum_w

    def snapshot(self) -> dict[str, Any]:
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
                name: [figure.power_w, figure.source.value, figure.floor_w]
                for name, figure in self._figures.items()
                if figure is not None
            },
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take up a state from `snapshot` of the same boat or an earlier form of it."""
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
            name: StandbyFigure(power_w, StandbySource(source), floor_w)
            for name, (power_w, source, floor_w) in state["figures"].items()
        }
        self._figures = {a.name: figures.get(a.name) for a in self._boat.appliances}
