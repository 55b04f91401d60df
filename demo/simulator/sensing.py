"""Which sensors the boat has, and what each of them measures."""

from collections.abc import Callable, Iterator
import random

from .boat import SimBoat
from .loads import Loads
from .meters import Meter, Row
from .options import SimOptions
from .relays import Spans
from .supply import Supply


def meters_of(
    boat: SimBoat, options: SimOptions, seed: int, loads: Loads, supply: Supply
) -> Iterator[Meter]:
    """Yield the meters that the boat's description names."""
    rng = random.Random(f"meters {seed}")
    sensors = boat.description["sensors"]
    positive = sensors.get("battery_power_positive", "charging")
    sign = 1.0 if positive == "charging" else -1.0
    period, window, quantum = options.period_s, options.window_s, options.quantum_w
    supply_period = options.supply_period_s or period

    def meter(
        entity_id: str,
        truth: Callable[[float], float],
        period_s: float = period,
        quantum: float = quantum,
        noise: float = options.noise_w,
        noise_share: float = options.noise_share,
    ) -> Meter:
        lag_s = rng.uniform(0.2, 2.0) * options.clock_lag_s
        jitter_s = options.jitter_s * period_s / 2
        return Meter(
            entity_id, truth, period_s, lag_s, jitter_s, quantum, noise, noise_share
        )

    def amperes(at_s: float) -> float:
        power_w = supply.bank_at(at_s, window)
        return sign * power_w / supply.voltage_at(at_s, power_w)

    if "ac_load_power" in sensors:
        yield meter(sensors["ac_load_power"], lambda t: loads.ac.mean(t - window, t))
    if "dc_load_power" in sensors:
        seen = loads.dc_total if options.dc_only else loads.dc_loads
        yield meter(sensors["dc_load_power"], lambda t: seen.mean(t - window, t))
    for entry in boat.description["appliances"]:
        if "power_sensor" in entry:
            own = loads.power[entry["name"]]
            yield meter(
                entry["power_sensor"],
                lambda t, own=own: own.mean(t - window, t),  # type: ignore[misc]
                noise=0.3 * options.noise_w,
            )
    if "solar_power" in sensors:
        yield meter(
            sensors["solar_power"],
            supply.solar_at,
            period_s=max(supply_period, rng.choice((1.0, 2.0, 3.0))),
            noise=0.8,
            noise_share=0.002,
        )
    if "other_charging_power" in sensors:
        yield meter(
            sensors["other_charging_power"],
            supply.engine_at,
            period_s=supply_period,
            noise=0.0,
            noise_share=0.003,
        )
    if "battery_power" in sensors:
        yield meter(
            sensors["battery_power"],
            lambda t: sign * supply.bank_at(t, window),
            period_s=supply_period,
        )
    if "battery_current" in sensors:
        # A shunt resolves better than a watt: 0.1 A.
        yield meter(
            sensors["battery_current"],
            amperes,
            period_s=supply_period,
            quantum=0.1,
            noise=0.05,
            noise_share=0.001,
        )
    if "battery_voltage" in sensors:
        yield meter(
            sensors["battery_voltage"],
            lambda t: supply.voltage_at(t, supply.bank_at(t, window)),
            period_s=supply_period,
            quantum=0.01,
            noise=0.004,
            noise_share=0.0,
        )
    if "battery_soc" in sensors:
        yield meter(
            sensors["battery_soc"],
            supply.soc_at,
            period_s=30.0,
            quantum=0.1,
            noise=0.0,
            noise_share=0.0,
        )


def switches_of(
    boat: SimBoat, live: dict[str, Spans], start_s: float, end_s: float
) -> tuple[Row, ...]:
    """Return what the relays of the boat's circuits say, in order of time."""
    rows: list[Row] = []
    for circuit in boat.description.get("circuits", ()):
        if "relay" not in circuit:
            continue
        changes = {start_s: "off"}
        for from_s, to_s in live[circuit["name"]]:
            changes[from_s] = "on"
            if to_s < end_s:
                changes[to_s] = "off"
        rows += [(circuit["relay"], state, at_s) for at_s, state in changes.items()]
    return tuple(sorted(rows, key=lambda row: row[2]))
