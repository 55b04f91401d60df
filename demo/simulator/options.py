"""How unkind the simulated world is to whoever has to read its meters."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SimOptions:
    """Everything about a simulation that is not drawn from its seed.

    `start` is an ISO time with offset. `kinds` fixes the appliances' kinds (repeats
    allowed); otherwise `appliances` of them are drawn. Fractions are 0 to 1, powers W,
    times s.
    """

    days: float = 5.0
    start: str = "2026-05-11T00:00:00+00:00"
    latitude: float = 38.53
    longitude: float = -28.62
    time_zone: str = "Atlantic/Azores"
    kinds: tuple[str, ...] | None = None
    appliances: int = 5
    crew_meals_per_day: float = 3.0

    # What the meters are like.
    period_s: float = 2.0
    supply_period_s: float = 0.0  # that of solar, bank and engine; 0: the same
    quantum_w: float = 1.0
    noise_w: float = 1.2
    noise_share: float = 0.001
    window_s: float = 0.5
    jitter_s: float = 0.15
    clock_lag_s: float = 0.4
    supply_meters: bool = True
    dc_only: bool = False
    dc_load_meter: bool = False
    battery_as_power: bool | None = None
    metered: tuple[str, ...] = ()

    # What happens to readings on their way.
    dropouts_per_day: float = 0.0
    dropout_s: float = 300.0
    late_share: float = 0.0
    doubled_share: float = 0.0

    # How the loads misbehave.
    rated_error: float = 0.10
    drift: float = 0.0
    wander: float = 0.004
    ramps: bool = False
    inrush: bool = False
    voltage_sag: bool = True
    standby: bool = True
    unnamed_per_day: float = 0.0
    fridge_on_ac: bool = False
    dc_appliances: int = 0

    # How the galley is wired.
    circuits: bool = False
    relays: bool = False
    tell_efficiency: bool = True
