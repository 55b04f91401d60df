"""The boat's load at one time, put together from readings."""

from typing import Final, NamedTuple

LONGEST_BRIDGE_S: Final = 120.0
"""A hole in the measured load that is no longer than this ends nothing that goes on after it."""


class LoadSample(NamedTuple):
    """What is known from `at_s` on, until the next sample (a step function of time).

    Times are Unix seconds. Powers are W; `load_w` is the AC-side equivalent of everything
    the load meters see (a DC load counts times the inverter's conversion), metered
    appliances included. None means not measured: the source is missing, unavailable or
    stale. `battery_w` and `battery_a` are positive while charging. `metered_w` has one
    value per appliance with its own meter, by name. `open_circuits` are circuits whose
    relay is known to be open. `temperature_c` is the bank's.
    """

    at_s: float
    load_w: float | None
    solar_w: float | None = None
    other_charging_w: float | None = None
    battery_w: float | None = None
    battery_a: float | None = None
    voltage_v: float | None = None
    soc: float | None = None
    metered_w: tuple[tuple[str, float | None], ...] = ()
    open_circuits: frozenset[str] = frozenset()
    temperature_c: float | None = None
