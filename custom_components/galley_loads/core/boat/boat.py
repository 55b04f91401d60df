"""The boat: what its owner tells about it.

These are the plain types; `boat_schema` turns a boat file or the answers of a form into
them and explains what is wrong with either. Everything downstream reads a `Boat` and
never a raw mapping.
"""

from dataclasses import dataclass, field
from datetime import time
from enum import StrEnum
from typing import Final
from zoneinfo import ZoneInfo

from ..kinds.kind import Kind

DEFAULT_EFFICIENCY: Final = 0.90
"""Inverter conversion where the owner states none (common practice, no source)."""

DEFAULT_MEAL_GAP_MINUTES: Final = 30.0


class Chemistry(StrEnum):
    """What the bank is made of."""

    LFP = "lfp"
    NMC = "nmc"
    AGM = "agm"
    GEL = "gel"
    FLOODED = "flooded"

    @property
    def is_lead(self) -> bool:
        """Whether Peukert's law applies to the bank."""
        return self in (Chemistry.AGM, Chemistry.GEL, Chemistry.FLOODED)


class Supply(StrEnum):
    """Which side of the inverter an appliance hangs on."""

    AC = "ac"
    DC = "dc"


class CutRule(StrEnum):
    """What may happen to a circuit that stands idle."""

    NEVER = "never"
    ASK = "ask"
    AUTO = "auto"


@dataclass(frozen=True, slots=True)
class Sensor:
    """One entity that the boat already has.

    `scale` turns its number into W, A, V or percent (1000 for a sensor in kW; negative for
    one that counts the other way round).
    """

    entity_id: str
    scale: float = 1.0


@dataclass(frozen=True, slots=True)
class Sensors:
    """The boat's meters; any subset that gives a load.

    `battery_sign` is +1 where a positive battery reading means charging, -1 where it
    means discharging; it holds for power and current alike.
    """

    ac_load_power: Sensor | None = None
    dc_load_power: Sensor | None = None
    solar_power: tuple[Sensor, ...] = ()
    other_charging_power: tuple[Sensor, ...] = ()
    battery_power: Sensor | None = None
    battery_current: Sensor | None = None
    battery_voltage: Sensor | None = None
    battery_soc: Sensor | None = None
    battery_temperature: Sensor | None = None
    position: str | None = None
    battery_sign: int = 1

    @property
    def has_battery_power(self) -> bool:
        """Whether the bank's power is known, directly or as current times voltage."""
        return self.battery_power is not None or (
            self.battery_current is not None and self.battery_voltage is not None
        )


@dataclass(frozen=True, slots=True)
class Bank:
    """The battery bank."""

    capacity_ah: float
    nominal_voltage_v: float
    reserve_soc: float
    chemistry: Chemistry = Chemistry.LFP
    max_discharge_current_a: float | None = None
    charge_efficiency: float | None = None
    peukert_exponent: float | None = None
    rated_hours: float = 20.0


@dataclass(frozen=True, slots=True)
class Inverter:
    """The inverter; `efficiency` and `idle_power_w` are None where nobody stated them."""

    continuous_power_w: float
    idle_power_w: float | None = None
    efficiency: float | None = None

    @property
    def conversion(self) -> float:
        """AC power out per DC power in, idle draw apart."""
        return DEFAULT_EFFICIENCY if self.efficiency is None else self.efficiency


@dataclass(frozen=True, slots=True)
class Solar:
    """The solar array; `forecast` names sensors of the owner's own forecast."""

    array_power_w: float
    forecast: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Appliance:
    """One galley load. `power_sensor` is its own meter: then nothing is inferred for it."""

    name: str
    kind: Kind
    rated_power_w: float
    standby_power_w: float | None = None
    power_sensor: Sensor | None = None
    supply: Supply = Supply.AC
    circuit: str | None = None


@dataclass(frozen=True, slots=True)
class Circuit:
    """A breaker with its appliances and, where there is one, its relay.

    `other_loads` says that something which is no galley appliance hangs on it too; such
    a circuit is watched and never cut.
    """

    name: str
    breaker_current_a: float
    voltage_v: float
    relay: str | None = None
    idle_minutes: float = 10.0
    cut: CutRule = CutRule.NEVER
    other_loads: bool = False


@dataclass(frozen=True, slots=True)
class Dish:
    """Something the crew plans to cook: minutes on per appliance, or watt-hours."""

    name: str
    minutes: dict[str, float] = field(default_factory=dict)
    energy_wh: float | None = None
    ready_by: time | None = None


@dataclass(frozen=True, slots=True)
class Boat:
    """One boat, checked and complete."""

    name: str
    latitude: float
    longitude: float
    time_zone: ZoneInfo
    sensors: Sensors
    bank: Bank
    inverter: Inverter | None = None
    solar: Solar | None = None
    appliances: tuple[Appliance, ...] = ()
    circuits: tuple[Circuit, ...] = ()
    dishes: tuple[Dish, ...] = ()
    meal_gap_minutes: float = DEFAULT_MEAL_GAP_MINUTES

    @property
    def conversion(self) -> float:
        """AC power out per DC power in; 1 on a boat without an inverter."""
        return 1.0 if self.inverter is None else self.inverter.conversion

    def circuit(self, name: str | None) -> Circuit | None:
        """Return the circuit of that name, None if there is none."""
        return next((c for c in self.circuits if c.name == name), None)

    def appliance(self, name: str) -> Appliance:
        """Return the appliance of that name; KeyError if the boat has none."""
        for appliance in self.appliances:
            if appliance.name == name:
                return appliance
        raise KeyError(name)

    def has_meter(self, name: str) -> bool:
        """Return whether there is an appliance of that name with its own meter."""
        return any(
            a.name == name and a.power_sensor is not None for a in self.appliances
        )
