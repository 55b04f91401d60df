"""What a sensor is there for, and how the crew calls it."""

from enum import Enum, auto
from typing import Final


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


_WORDS: Final = {
    Role.AC_LOAD: "the AC load meter",
    Role.DC_LOAD: "the DC load meter",
    Role.SOLAR: "the solar meter",
    Role.OTHER_CHARGING: "the charger's meter",
    Role.BATTERY_POWER: "the battery's power meter",
    Role.BATTERY_CURRENT: "the battery's current meter",
    Role.BATTERY_VOLTAGE: "the battery's voltage meter",
    Role.SOC: "the battery gauge",
    Role.TEMPERATURE: "the battery's thermometer",
    Role.METER: "the meter of {owner}",
    Role.RELAY: "the relay of {owner}",
}


def called(role: Role, owner: str = "") -> str:
    """Return what the crew calls a sensor; `owner` is the appliance or circuit it is of."""
    return _WORDS[role].replace("{owner}", owner)


def called_with_id(role: Role, entity_id: str, owner: str = "") -> str:
    """Return the same with the entity id in brackets, for who has to repair it."""
    return f"{called(role, owner)} ({entity_id})"


def sentence(text: str) -> str:
    """Return a text with a capital letter and a full stop."""
    return f"{text[0].upper()}{text[1:]}."
