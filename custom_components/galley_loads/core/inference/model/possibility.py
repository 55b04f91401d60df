"""What may be going on at this moment: one of a few possibilities, with its chance."""

from dataclasses import dataclass

from .activity import Phase


@dataclass(frozen=True, slots=True)
class PossibleLoad:
    """One load that may be running.

    `name` is None for a load that nobody named. `power_w` is what it draws now, 0 in a
    pause. `goes_on` is the chance that its run goes on: of one that fell silent nobody sees
    whether it has ended. `sure` is by how much its shape so far speaks for its appliance,
    0 to 1.
    """

    name: str | None
    run_start_s: float
    power_w: float
    phase: Phase
    silent: bool
    goes_on: float
    sure: float


@dataclass(frozen=True, slots=True)
class Possibility:
    """One account of the load at this moment, with its chance among all that are kept.

    `base_w` and the draws of `loads` add up to `total_w`, which is what the account
    expects of the meter, W.
    """

    chance: float
    base_w: float
    total_w: float
    loads: tuple[PossibleLoad, ...]
