"""What a sensor is there for, and how the crew calls it."""

from enum import Enum, auto
from typing import Final

from ..phrase import Phrase, phrase


class Role(Enum):
    """What a sensor tells."""

    AC_LOAD = auto()
    DC_LOAD = auto()
    SOLAR = auto()
    OTHER_CHARGING = auto()
    BATTERY_POWER = auto()
    BATTERY_CURRENT = auto()
    BATTERY_VOLTAGE = auto()
    SOC = auto()
    TEMPERATURE = auto()
    METER = auto()
    RELAY = auto()


_CALLED: Final = {
    Role.AC_LOAD: phrase("sensor.ac_load"),
    Role.DC_LOAD: phrase("sensor.dc_load"),
    Role.SOLAR: phrase("sensor.solar"),
    Role.OTHER_CHARGING: phrase("sensor.other_charging"),
    Role.BATTERY_POWER: phrase("sensor.battery_power"),
    Role.BATTERY_CURRENT: phrase("sensor.battery_current"),
    Role.BATTERY_VOLTAGE: phrase("sensor.battery_voltage"),
    Role.SOC: phrase("sensor.soc"),
    Role.TEMPERATURE: phrase("sensor.temperature"),
}


def called(role: Role, owner: str = "") -> Phrase:
    """Return what the crew calls a sensor; `owner` is the appliance or circuit it is of."""
    match role:
        case Role.METER:
            return phrase("sensor.meter", owner=owner)
        case Role.RELAY:
            return phrase("sensor.relay", owner=owner)
        case _:
            return _CALLED[role]


def called_with_id(role: Role, entity_id: str, owner: str = "") -> Phrase:
    """Return the same with the entity id in brackets, for who has to repair it."""
    return phrase("sensor.with_id", sensor=called(role, owner), entity_id=entity_id)
