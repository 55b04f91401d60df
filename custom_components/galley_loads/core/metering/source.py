"""What each sensor last said, and for how long that may be believed.

The platform reports changes. A steady source is silent and still right; a dead one is
silent too. A value is therefore held as long as holding it can do little harm:

* while any sensor of the boat is heard, for an hour; readings near zero, which add next to
  nothing, at any length;
* when the whole boat falls silent, five minutes for anything large, longer for little
  draws: until the held value stands for 60 Wh, at most six hours.

After that the value is not known, until the sensor itself speaks again. A silent load
meter is given up sooner when the bank shows that its load has ended.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import inf
from typing import Final

from ..boat.boat import Boat, Sensor, Supply
from ..boat.sensor_role import Role, called, called_with_id
from ..phrase import Phrase, phrase
from .meter_direction import LARGE_W, Direction, DirectionState
from .meter_limits import (
    ANYTHING,
    SOC_LIMITS,
    TEMPERATURE_LIMITS,
    MeterLimits,
    ac_limits,
    appliance_limits,
    bank_limits,
    current_limits,
    solar_limits,
    voltage_limits,
)
from .reading import number_of

HELD_WHILE_HEARD_S: Final = 3600.0
HELD_IN_SILENCE_S: Final = 300.0
LONGEST_SILENCE_S: Final = 6 * 3600.0
HELD_ENERGY_WS: Final = 60.0 * 3600.0
STEADY_WHILE_HEARD_S: Final = 24 * 3600.0
NEAR_ZERO_W: Final = 10.0

ASLEEP_S: Final = 16 * 3600.0
"""A charger that went away at nothing counts as nothing for a long night."""

_TEXTS_KEPT: Final = 2000


@dataclass(frozen=True, slots=True)
class Complaint:
    """A sensor that is missing: what the crew calls it, and what is to be said about it.

    `asleep` is a charger that went away at nothing and is counted as nothing.
    """

    entity_id: str
    called: Phrase
    said: Phrase
    asleep: bool


_OPEN_STATES: Final = {"off": 1.0, "on": 0.0}

_ONE_WAY: Final = (Role.AC_LOAD, Role.DC_LOAD, Role.SOLAR, Role.METER)
"""Where power below zero makes no sense; another charger may be an inverter as well."""

STEADY_ROLES: Final = (Role.BATTERY_VOLTAGE, Role.SOC, Role.TEMPERATURE)
_CHARGERS: Final = (Role.SOLAR, Role.OTHER_CHARGING)

type SourceState = tuple[float | None, float | None, str, bool, DirectionState | None]
"""What a `Source` saves: value, report, why there is none, asleep, direction."""


@dataclass(slots=True, eq=False)
class Source:
    """One sensor: its last value in W, A, V, % or °C (a relay: 1 is open, 0 closed).

    `watts` turns the value into a power, for judging how much harm it may do when held.
    What `limits` do not allow is a fault of the meter and no value.
    `owner` is the appliance or circuit that a meter or a relay belongs to. `why_none` says
    why there is no value. `told` has the values of texts that were read before: a meter
    repeats itself, and looking a text up takes a third of the time of reading it.
    `direction` learns of a meter whose power flows one way only which way it counts.
    """

    entity_id: str
    role: Role
    scale: float = 1.0
    watts: float = 1.0
    owner: str = ""
    value: float | None = None
    reported_s: float | None = None
    why_none: str = "not heard"
    asleep: bool = False
    told: dict[str, float | None] = field(default_factory=dict)
    limits: MeterLimits = ANYTHING
    direction: Direction | None = field(init=False)

    def __post_init__(self) -> None:
        """Have the direction watched where there is but one."""
        self.direction = Direction() if self.role in _ONE_WAY else None

    def value_in(self, state: str) -> float | None:
        """Return the value that a state's text tells; None if it tells none that can be."""
        if self.role is Role.RELAY:
            return _OPEN_STATES.get(state)
        try:
            value = number_of(state) * self.scale
        except ValueError:
            return None
        return value if self.limits.allow(value, state) else None

    def read(self, state: str) -> float | None:
        """Do what `value_in` does, and remember it for the next time."""
        if len(self.told) >= _TEXTS_KEPT:
            self.told.clear()
        value = self.told[state] = self.value_in(state)
        return value

    def lose(self, why: str) -> None:
        """Take away the value; a charger that was at nothing counts on as nothing."""
        self.why_none = why
        self.asleep = (
            self.role in _CHARGERS
            and why in ("unavailable", "unknown")
            and self.value is not None
            and abs(self.value) <= NEAR_ZERO_W
        )
        self.value = 0.0 if self.asleep else None

    def held_until_s(self, heard_s: float) -> float:
        """Return until when the value may be believed, if nobody says anything more.

        `heard_s` is when any of the boat's sensors was last heard.
        """
        if self.value is None or self.reported_s is None or self.role is Role.RELAY:
            return inf
        if self.asleep:
            return self.reported_s + ASLEEP_S
        if self.role in STEADY_ROLES:
            while_heard_s, in_silence_s = STEADY_WHILE_HEARD_S, LONGEST_SILENCE_S
        else:
            power_w = abs(self.value) * self.watts
            while_heard_s = HELD_WHILE_HEARD_S if power_w > NEAR_ZERO_W else inf
            in_silence_s = min(
                LONGEST_SILENCE_S,
                max(HELD_IN_SILENCE_S, HELD_ENERGY_WS / max(power_w, NEAR_ZERO_W)),
            )
        return min(heard_s, self.reported_s + while_heard_s) + in_silence_s

    @property
    def called(self) -> Phrase:
        """What the crew calls it."""
        return called(self.role, self.owner)

    @property
    def called_with_id(self) -> Phrase:
        """What the crew calls it, with the entity id in brackets."""
        return called_with_id(self.role, self.entity_id, self.owner)

    def complaint(self, now_s: float) -> Complaint | None:
        """Return what is to be said where the source is missing."""
        if self.why_none == "":
            return self._complaint_below_zero()
        return Complaint(self.entity_id, self.called, self._said(now_s), self.asleep)

    def _said(self, now_s: float) -> Phrase:
        sensor = self.called_with_id
        if self.reported_s is None:
            return phrase("silent.never_heard", sensor=sensor)
        age_s = max(0.0, now_s - self.reported_s)
        match self.why_none:
            case "unavailable" if self.asleep:
                return phrase("silent.asleep_unavailable", sensor=sensor, age_s=age_s)
            case "unavailable":
                return phrase("silent.unavailable", sensor=sensor, age_s=age_s)
            case "unreadable":
                return phrase("silent.unreadable", sensor=sensor, age_s=age_s)
            case "silent":
                return phrase("silent.silent", sensor=sensor, age_s=age_s)
            case _ if self.asleep:
                return phrase("silent.asleep_unknown", sensor=sensor, age_s=age_s)
            case _:
                return phrase("silent.unknown", sensor=sensor, age_s=age_s)

    @property
    def is_far_below_zero(self) -> bool:
        """Whether it tells that much flows the way on which nothing can flow."""
        return (
            self.direction is not None
            and self.value is not None
            and self.value <= -LARGE_W
        )

    def _complaint_below_zero(self) -> Complaint | None:
        if self.value is None or not self.is_far_below_zero:
            return None
        said = phrase(
            "silent.below_zero", sensor=self.called_with_id, power_w=self.value
        )
        return Complaint(self.entity_id, self.called, said, asleep=False)

    def snapshot(self) -> SourceState:
        """Return the changing part as plain data."""
        direction = None if self.direction is None else self.direction.snapshot()
        return self.value, self.reported_s, self.why_none, self.asleep, direction

    def restore(self, state: SourceState) -> None:
        """Take back what `snapshot` gave."""
        self.value, self.reported_s, self.why_none, self.asleep, direction = state
        if self.direction is not None and direction is not None:
            self.direction.restore(direction)


def sources_of(boat: Boat) -> Iterator[Source]:
    """Yield one source per sensor of the boat, meters and relays included."""
    sensors = boat.sensors
    single: tuple[tuple[Role, Sensor | None], ...] = (
        (Role.AC_LOAD, sensors.ac_load_power),
        (Role.DC_LOAD, sensors.dc_load_power),
        (Role.BATTERY_POWER, sensors.battery_power),
        (Role.BATTERY_CURRENT, sensors.battery_current),
        (Role.BATTERY_VOLTAGE, sensors.battery_voltage),
        (Role.SOC, sensors.battery_soc),
        (Role.TEMPERATURE, sensors.battery_temperature),
        *((Role.SOLAR, sensor) for sensor in sensors.solar_power),
        *((Role.OTHER_CHARGING, sensor) for sensor in sensors.other_charging_power),
    )
    of_bank = bank_limits(boat)
    limits = {
        Role.AC_LOAD: ac_limits(boat),
        Role.DC_LOAD: of_bank,
        Role.SOLAR: solar_limits(boat),
        Role.OTHER_CHARGING: of_bank,
        Role.BATTERY_POWER: of_bank,
        Role.BATTERY_CURRENT: current_limits(boat),
        Role.BATTERY_VOLTAGE: voltage_limits(boat),
        Role.SOC: SOC_LIMITS,
        Role.TEMPERATURE: TEMPERATURE_LIMITS,
    }
    for role, sensor in single:
        if sensor is None:
            continue
        scale, watts = sensor.scale, 1.0
        if role in (Role.BATTERY_POWER, Role.BATTERY_CURRENT):
            scale *= boat.sensors.battery_sign
        if role is Role.BATTERY_CURRENT:
            watts = boat.bank.nominal_voltage_v
        yield Source(sensor.entity_id, role, scale, watts, limits=limits[role])
    for appliance in boat.appliances:
        if appliance.power_sensor is None:
            continue
        scale = appliance.power_sensor.scale
        if appliance.supply is Supply.DC:
            scale *= boat.conversion
        yield Source(
            appliance.power_sensor.entity_id,
            Role.METER,
            scale,
            owner=appliance.name,
            limits=appliance_limits(boat, appliance),
        )
    for circuit in boat.circuits:
        if circuit.relay is not None:
            yield Source(circuit.relay, Role.RELAY, owner=circuit.name)


def entity_ids_of(boat: Boat) -> frozenset[str]:
    """Return the ids of all entities whose readings the boat's load is made of."""
    return frozenset(source.entity_id for source in sources_of(boat))
