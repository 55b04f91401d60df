"""A kind's description made ready for one appliance.

Dwell times follow the log-logistic law, whose survival 1 / (1 + (t/m)^k) needs no table
and has a tail that falls like a power: an overdue state is charged ever less, so nothing
is forced while nothing happens. m and k follow from the range that holds eight of ten
dwells (Bennett, "Log-logistic regression models for survival data", Applied Statistics 32
(1983) 165, has the law; the range gives (hi/lo)^k = 81).
"""

from math import inf, log
from typing import Final, NamedTuple

from ...boat.boat import Appliance
from ...kinds.behaviour import OFF, Description, Full, Level, Small
from .duty_cycle import DutyCycleLaw, duty_cycle_law
from .dwell_laws import choice_costs, dwell_laws, last_chances, range_law
from .hypothesis import UNNAMED

FADING: Final = 0.035
"""Judgement, a share: by how much of itself a sliding draw strays from one steady state
to the next."""
FULL_SLOT: Final = 0
"""Definition: where a run remembers its full power."""
SILENT_W: Final = 14.0
"""Judgement, W: a draw that the boat's meters hardly show; its end is not seen but
concluded."""


class Follow(NamedTuple):
    """A state that may come next, with the cost (-log chance) of choosing it.

    `again` and `instead` are that cost after the run chose it, or another, so many times
    in a row.
    """

    state: int
    cost: float
    again: tuple[float, ...] = ()
    instead: tuple[float, ...] = ()


class MachineState(NamedTuple):
    """One state of one appliance, powers as shares of the rating or in W.

    `draw` is "full", "level" or "small" ; `slot` is where the run remembers the draw.
    """

    name: str
    draw: str
    low: float
    high: float
    scale_s: float
    shape: float
    long_s: float
    follows: tuple[Follow, ...]
    holding: bool
    slot: int
    fresh: bool
    fades: bool
    short_s: float
    wander: float
    alike: int
    log_scale: float
    log_low: float
    log_high: float
    laws: tuple[tuple[float, float, float], ...]
    duty_cycles: dict[int, DutyCycleLaw]
    last: tuple[tuple[float, float], ...]


class StateMachine(NamedTuple):
    """The behaviour of one appliance, or of a load that nobody named."""

    number: int
    states: tuple[MachineState, ...]
    starts: tuple[Follow, ...]
    start_rate_per_s: float
    slots: int
    alike: int
    run_scale_s: float
    run_shape: float
    run_short_s: float
    run_long_s: float
    unrest_per_s: float
    zone_share: float
    least_full_s: float
    least_run_s: float
    least_heat_s: float
    untouched_s: float
    has_full: bool
    level_slots: frozenset[int]


def build_machine(index: int, appliance: Appliance) -> StateMachine:
    """Return the machine of one appliance of the boat."""
    description = appliance.kind.description
    zone_share = 1.0
    if description.zone_w:
        zone_share = min(1.0, description.zone_w / appliance.rated_power_w)
    return machine_of(index, description, zone_share)


def machine_of(
    number: int, description: Description, zone_share: float = 1.0
) -> StateMachine:
    """Return the machine of what behaves as described.

    `zone_share` is what one of its plates may draw of the power that all draw together.
    """
    names = list(description.states)
    slots: dict[str, int] = {"full": FULL_SLOT}
    states: list[MachineState] = []
    alike = 0
    for name, state in description.states.items():
        low_s, high_s = state.dwell_s
        scale_s, shape = range_law(low_s, high_s)
        match state.draw:
            case Full(share):
                draw, low, high, memory = "full", share, share, "full"
            case Level(low, high):
                low *= zone_share
                draw, memory = "level", state.like or name
            case Small(low, high):
                # A motor's draw is not that of the pause between its turns.
                draw, memory = "small", state.like or f"small {low:g} to {high:g}"
        slot = slots.setdefault(memory, len(slots))
        total = sum(state.follows.values())
        onward = total - state.follows.get(OFF, 0.0)
        states.append(
            MachineState(
                name=name,
                draw=draw,
                low=low,
                high=high,
                scale_s=scale_s,
                shape=shape,
                long_s=high_s,
                follows=tuple(
                    Follow(
                        names.index(to),
                        -log(chance / onward),
                        *choice_costs(chance / onward),
                    )
                    for to, chance in state.follows.items()
                    if to != OFF
                ),
                holding=state.holding,
                slot=slot,
                fresh=state.fresh,
                fades=state.fades,
                short_s=low_s,
                wander=FADING if state.fades else description.wander,
                alike=alike if state.alike else -1,
                log_low=log(low_s),
                log_high=log(high_s),
                log_scale=0.5 * (log(low_s) + log(high_s)),
                laws=dwell_laws(low_s, high_s),
                duty_cycles=_duty_cycle_laws(description, name),
                last=last_chances(state.follows.get(OFF, 0.0) / total),
            )
        )
        alike += state.alike
    run_scale_s, run_shape = range_law(*description.run_s)
    return StateMachine(
        number=number,
        states=tuple(states),
        starts=tuple(
            Follow(names.index(to), -log(chance))
            for to, chance in description.starts.items()
        ),
        start_rate_per_s=description.runs_per_day / 86400.0,
        slots=len(slots),
        run_scale_s=run_scale_s,
        run_shape=run_shape,
        run_short_s=description.run_s[0],
        run_long_s=description.run_s[1],
        unrest_per_s=1.0 / description.restless_s if description.restless_s else 0.0,
        zone_share=zone_share,
        alike=alike,
        least_run_s=description.least_run_s,
        least_heat_s=description.least_heat_s,
        untouched_s=description.untouched_s or inf,
        has_full=any(state.draw == "full" for state in states),
        # What a knob or a controller comes back to; a load that nobody named may be new.
        level_slots=frozenset(
            state.slot
            for state in states
            if state.draw == "level" and state.fresh and number != UNNAMED
        ),
        least_full_s=min(
            description.states[name].dwell_s[0]
            if isinstance(description.states[name].draw, Full)
            else 0.0
            for name in description.starts
        ),
    )


def _duty_cycle_laws(description: Description, name: str) -> dict[int, DutyCycleLaw]:
    """Return by the pulse that a pause follows what their lengths together say."""
    pause = description.states[name]
    if not isinstance(pause.draw, Small) or not pause.alike:
        return {}
    return {
        number: duty_cycle_law(pulse.duty_cycle, pulse.dwell_s, pause.dwell_s)
        for number, pulse in enumerate(description.states.values())
        if pulse.duty_cycle is not None and name in pulse.follows
    }
