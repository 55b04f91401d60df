"""Small boats that tests of the core share."""

from zoneinfo import ZoneInfo

from custom_components.galley_loads.core.boat.boat import (
    Appliance,
    Bank,
    Boat,
    Circuit,
    Inverter,
    Sensor,
    Sensors,
    Solar,
)
from custom_components.galley_loads.core.kinds import catalogue

HOB = Appliance(
    "Hob", catalogue.INDUCTION_HOB, 1800, standby_power_w=20, circuit="Galley 1"
)
OVEN = Appliance("Oven", catalogue.OVEN, 1500, circuit="Galley 1")
KETTLE = Appliance("Kettle", catalogue.KETTLE, 2000, circuit="Galley 2")
HEATER = Appliance("Water heater", catalogue.WATER_HEATER, 1200)

CIRCUITS = (
    Circuit("Galley 1", 15, 230, relay="switch.galley_1"),
    Circuit("Galley 2", 10, 230),
)


def small_boat(**changes: object) -> Boat:
    """Return a boat with a metered inverter, sun and bank; `changes` replace its parts."""
    parts: dict[str, object] = {
        "name": "Sandpiper",
        "latitude": 38.53,
        "longitude": -28.62,
        "time_zone": ZoneInfo("Atlantic/Azores"),
        "sensors": Sensors(
            ac_load_power=Sensor("sensor.inverter_output"),
            solar_power=(Sensor("sensor.solar"),),
            battery_power=Sensor("sensor.bank_power"),
            battery_voltage=Sensor("sensor.bank_voltage"),
            battery_soc=Sensor("sensor.bank_soc"),
        ),
        "bank": Bank(560, 12.8, 35),
        "inverter": Inverter(2500, idle_power_w=18, efficiency=0.9),
        "solar": Solar(540),
        "appliances": (HOB, OVEN, KETTLE, HEATER),
        "circuits": CIRCUITS,
    }
    parts.update(changes)
    return Boat(**parts)  # type: ignore[arg-type]
