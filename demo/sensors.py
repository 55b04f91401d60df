"""Sandpiper's sensors and relays as the platform shows them."""

from dataclasses import dataclass
from typing import Final

from . import sandpiper


@dataclass(frozen=True, slots=True)
class DemoEntity:
    """One entity: its id, its name and what the platform wants to know about it."""

    entity_id: str
    name: str
    attributes: dict[str, str]

    @property
    def recorded_attributes(self) -> dict[str, str]:
        """What the recorder keeps beside its states."""
        return {**self.attributes, "friendly_name": self.name}


def _sensor(entity_id: str, name: str, device_class: str, unit: str) -> DemoEntity:
    attributes = {
        "state_class": "measurement",
        "unit_of_measurement": unit,
        "device_class": device_class,
    }
    return DemoEntity(entity_id, name, attributes)


ENTITIES: Final = (
    _sensor(sandpiper.INVERTER_OUTPUT, "Inverter output", "power", "W"),
    _sensor(sandpiper.SOLAR_POWER, "Solar power", "power", "W"),
    _sensor(sandpiper.ALTERNATOR_POWER, "Alternator power", "power", "W"),
    _sensor(sandpiper.BANK_CURRENT, "Bank current", "current", "A"),
    _sensor(sandpiper.BANK_VOLTAGE, "Bank voltage", "voltage", "V"),
    _sensor(sandpiper.BANK_CHARGE, "Bank state of charge", "battery", "%"),
    _sensor(sandpiper.HEATER_PLUG_POWER, "Water heater plug power", "power", "W"),
    *(
        DemoEntity(entity_id, f"{circuit} relay", {"device_class": "outlet"})
        for circuit, entity_id in sandpiper.RELAYS.items()
    ),
)
