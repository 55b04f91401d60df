"""How long a circuit has been idle: by inference, by bare power and by its own meters.

Bare power is looked at twice: does more stand than at rest, and does it come and go.
"""

from collections.abc import Iterable, Mapping
from typing import Final, TypedDict

from ..boat.boat import Appliance, Boat, Circuit
from ..kinds.behaviour import Level
from .cut_facts import CutFacts
from .excess import ExcessWatch, ExcessWatchState, excess_w, margin_w
from .holding import QuietWork, QuietWorkState
from .restless import RestlessWatch, RestlessWatchState, works_at_little

_LIKE_FACTOR: Final = 1.67
_LEVEL_LEAST: Final = 0.25
BLIND_S: Final = 600.0
"""After so long without a look at the load, idle time counts anew."""


def _may_be(appliance: Appliance, other_w: float) -> bool:
    """Return whether a run of an appliance rated `other_w` may be this one's in truth.

    One that has levels, as a hob does, may draw much less than its rating.
    """
    states = appliance.kind.description.states.values()
    least, most = 1 / _LIKE_FACTOR, _LIKE_FACTOR
    if any(isinstance(state.draw, Level) for state in states):
        least = _LEVEL_LEAST
    return least <= other_w / appliance.rated_power_w <= most


class CircuitWatchState(TypedDict):
    """What `CircuitWatch` saves."""

    excess: dict[str, ExcessWatchState]
    restless: RestlessWatchState
    quiet_work: QuietWorkState
    ran_s: dict[str, float]
    busy_s: float | None
    watched_since_s: float | None
    last_s: float | None
    closed: bool | None
    closed_since_s: float | None


class CircuitWatch:
    """What has been seen of one circuit's use."""

    def __init__(self, boat: Boat, circuit: Circuit) -> None:
        """Watch a circuit that has not been seen yet."""
        self.circuit = circuit
        self.appliances: tuple[Appliance, ...] = tuple(
            a for a in boat.appliances if a.circuit == circuit.name
        )
        self._margin_w = margin_w([a.rated_power_w for a in self.appliances] or [0.0])
        self._inferred = [a for a in self.appliances if a.power_sensor is None]
        self._elsewhere_w = {
            a.name: a.rated_power_w
            for a in boat.appliances
            if a.circuit != circuit.name and a.power_sensor is None
        }
        self._excess = {"load": ExcessWatch(), "bank": ExcessWatch()}
        self._restless = RestlessWatch()
        self._works_at_little = any(
            works_at_little(a, self._margin_w) for a in self._inferred
        )
        self._quiet_work = QuietWork(self.appliances)
        self._ran_s: dict[str, float] = {}
        self._busy_s: float | None = None
        self._watched_since_s: float | None = None
        self._last_s: float | None = None
        self.closed: bool | None = None
        self.closed_since_s: float | None = None

    def observe(
        self,
        moment: CutFacts,
        views_w: Mapping[str, float | None],
        resting_w: Mapping[str, float | None],
        moves_elsewhere: Iterable[float],
    ) -> bool:
        """Take a moment; return whether the relay has just been closed.

        `views_w` are the measures of the boat's load that there are, `resting_w` what
        each shows at rest, `moves_elsewhere` when runs on other circuits began or ended.
        """
        at_s = moment.at_s
        blind = moment.load_age_s is None or moment.load_age_s > BLIND_S
        asleep = self._last_s is None or at_s - self._last_s > BLIND_S
        if (
            blind
            or asleep
            or moment.sample.load_w is None
            or self._watched_since_s is None
        ):
            self._watched_since_s = at_s
        self._last_s = at_s
        for appliance in self.appliances:
            name = appliance.name
            if moment.live.appliance(name).perhaps_running:
                self._ran_s[name] = at_s
        self._quiet_work.observe(
            at_s,
            self.meters_w(moment),
            anew=self._watched_since_s == at_s
            or moment.relay_closed.get(self.circuit.name) is not True,
        )
        if self.meter_draws(moment) or self.confusable_run(moment):
            self._busy_s = at_s
        explained_w = self._explained_elsewhere_w(moment)
        unnamed = (moment.live.unassigned_w or 0.0) > self._margin_w
        moves = tuple(moves_elsewhere)
        for key, watch in self._excess.items():
            load_w, rest_w = views_w.get(key), resting_w.get(key)
            excess = unnamed or (
                load_w is not None
                and rest_w is not None
                and excess_w(load_w, explained_w, rest_w, self._margin_w) > 0
            )
            watch.observe(at_s, excess, moves)
        if self._works_at_little and moment.sample.load_w is not None:
            self._restless.observe(
                at_s,
                moment.sample.load_w,
                explained_w + self._explained_here_w(moment),
                moment.floor_w,
                moves,
                is_open=moment.relay_closed.get(self.circuit.name) is False,
            )
        return self._follow_relay(moment)

    def start_over(self, at_s: float) -> None:
        """Count everything anew from `at_s`, earlier or later: the clock was set.

        What ran may have ended just now, for all that is known.
        """
        self._excess = {key: ExcessWatch() for key in self._excess}
        self._restless.start_over()
        self._ran_s = dict.fromkeys(self._ran_s, at_s)
        self._watched_since_s = self._last_s = self._busy_s = None
        if self.closed_since_s is not None:
            self.closed_since_s = at_s

    def _follow_relay(self, moment: CutFacts) -> bool:
        closed = moment.relay_closed.get(self.circuit.name)
        if closed is None or closed is self.closed:
            return False
        just_closed = closed and self.closed is False
        if closed:
            self.closed_since_s = moment.at_s
        self.closed = closed
        return just_closed

    def _explained_here_w(self, moment: CutFacts) -> float:
        """Return what runs on this circuit draw, those that draw little left out.

        Inference takes little runs back now and then, while they go on in truth.
        """
        here = [moment.live.appliance(a.name) for a in self._inferred]
        powers_w = [now.power_w for now in here if now.running]
        return sum(power_w for power_w in powers_w if power_w > self._margin_w)

    def _explained_elsewhere_w(self, moment: CutFacts) -> float:
        here = {a.name for a in self.appliances}
        return sum(
            now.power_w
            for now in moment.live.appliances
            if now.running and now.name not in here
        )

    def confusable_run(self, moment: CutFacts) -> bool:
        """Return whether a run elsewhere may in truth be one on this circuit.

        Inference names runs by their power; what is said of a kettle may be the hob's when
        both draw about the same. An own meter settles it.
        """
        return any(
            any(_may_be(here, other_w) for here in self._inferred)
            for now in moment.live.appliances
            if now.perhaps_running
            and (other_w := self._elsewhere_w.get(now.name)) is not None
        )

    def others_run(self, moment: CutFacts) -> bool:
        """Return whether an appliance on another circuit runs."""
        here = {a.name for a in self.appliances}
        return any(
            now.perhaps_running
            for now in moment.live.appliances
            if now.name not in here
        )

    def running(self, moment: CutFacts) -> bool:
        """Return whether a run is open on this circuit, or may go on."""
        return any(
            moment.live.appliance(a.name).perhaps_running for a in self.appliances
        )

    def meters_w(self, moment: CutFacts) -> dict[str, float | None]:
        """Return what the circuit's own meters show, by appliance, W."""
        here = {a.name for a in self.appliances}
        return {
            name: power_w for name, power_w in moment.sample.metered_w if name in here
        }

    def meter_draws(self, moment: CutFacts) -> bool:
        """Return whether an appliance's own meter shows more than any standby."""
        limits_w = {
            a.name: min(
                max(0.05 * a.rated_power_w, 2.0 * (a.standby_power_w or 0.0), 15.0),
                90.0,
            )
            for a in self.appliances
        }
        return any(
            power_w is not None and power_w > limits_w[name]
            for name, power_w in self.meters_w(moment).items()
        )

    @property
    def draw_unexplained(self) -> bool:
        """Whether power stands in the room that no run accounts for."""
        return any(watch.open for watch in self._excess.values())

    def restless(self, at_s: float, quiet_s: float) -> bool:
        """Return whether the load came and went by little within the last `quiet_s`.

        Only where something on the circuit without a meter may draw so little at work.
        """
        busy_s = self._restless.busy_s
        return busy_s is not None and at_s - busy_s < quiet_s

    @property
    def occasion_s(self) -> float | None:
        """When the present idle spell began: the relay's closing or the last run's end."""
        times = [*self._ran_s.values()]
        if self.closed_since_s is not None:
            times.append(self.closed_since_s)
        return max(times) if times else self._watched_since_s

    @property
    def idle_since_s(self) -> float | None:
        """Since when the circuit has been idle by all that is known."""
        times = [self._watched_since_s, self._busy_s, self.occasion_s]
        times.append(self._restless.busy_s)
        times += [watch.busy_s for watch in self._excess.values()]
        known = [time_s for time_s in times if time_s is not None]
        return max(known) if known else None

    @property
    def pause_s(self) -> float:
        """How long an appliance whose work the load shows may pause in the middle of it."""
        return self._quiet_work.pause_s

    def may_hold(self, at_s: float) -> bool:
        """Return whether something may go on, or pause, where no power shows it."""
        return self._quiet_work.may_go_on(at_s)

    def cooling(self, at_s: float) -> bool:
        """Return whether a hob or an oven may still need its fan."""
        return any(
            at_s - self._ran_s[a.name] < a.kind.traits.cool_down_s
            for a in self.appliances
            if a.name in self._ran_s
        )

    def snapshot(self) -> CircuitWatchState:
        """Return the state as JSON-able data."""
        return {
            "excess": {key: watch.snapshot() for key, watch in self._excess.items()},
            "restless": self._restless.snapshot(),
            "quiet_work": self._quiet_work.snapshot(),
            "ran_s": dict(self._ran_s),
            "busy_s": self._busy_s,
            "watched_since_s": self._watched_since_s,
            "last_s": self._last_s,
            "closed": self.closed,
            "closed_since_s": self.closed_since_s,
        }

    def restore(self, state: CircuitWatchState) -> None:
        """Take up a state from `snapshot`."""
        for key, watch in self._excess.items():
            watch.restore(state["excess"][key])
        self._restless.restore(state["restless"])
        names = {a.name for a in self.appliances}
        self._ran_s = {n: at_s for n, at_s in state["ran_s"].items() if n in names}
        self._quiet_work.restore(state["quiet_work"])
        self._busy_s = state["busy_s"]
        self._watched_since_s = state["watched_since_s"]
        self._last_s = state["last_s"]
        self.closed = state["closed"]
        self.closed_since_s = state["closed_since_s"]
