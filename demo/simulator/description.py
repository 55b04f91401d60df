"""The boat as its owner would describe her, in the form of the boat file."""

from typing import Any

from .appliances import SimAppliance
from .options import SimOptions
from .parts import SimArray, SimBank, SimInverter


def describe(
    name: str,
    options: SimOptions,
    appliances: tuple[SimAppliance, ...],
    inverter: SimInverter,
    bank: SimBank,
    array: SimArray,
    *,
    battery_as_power: bool,
    battery_positive: str,
    charger_w: float,
    mains_v: int,
    dishes: tuple[dict[str, Any], ...] = (),
) -> dict[str, Any]:
    """Return the boat description, in the form of the boat file."""
    sensors: dict[str, Any] = {}
    if not options.dc_only:
        sensors["ac_load_power"] = "sensor.ac_load_power"
    if options.dc_load_meter or (
        not options.dc_only and any(a.supply == "dc" for a in appliances)
    ):
        sensors["dc_load_power"] = "sensor.dc_load_power"
    if options.supply_meters or options.dc_only:
        sensors["solar_power"] = "sensor.solar_power"
        if charger_w:
            sensors["other_charging_power"] = "sensor.alternator_power"
        if battery_as_power:
            sensors["battery_power"] = "sensor.battery_power"
        else:
            sensors["battery_current"] = "sensor.battery_current"
        sensors["battery_power_positive"] = battery_positive
        sensors["battery_voltage"] = "sensor.battery_voltage"
        sensors["battery_soc"] = "sensor.battery_soc"
    described: list[dict[str, Any]] = []
    for appliance in appliances:
        entry: dict[str, Any] = {
            "name": appliance.name,
            "kind": appliance.kind,
            "rated_power": appliance.rated_w,
        }
        if appliance.name in options.metered or appliance.kind in options.metered:
            slug = appliance.name.lower().replace(" ", "_")
            entry["power_sensor"] = f"sensor.{slug}_meter"
        if appliance.supply != "ac":
            entry["supply"] = appliance.supply
        if appliance.circuit is not None:
            entry["circuit"] = appliance.circuit
        described.append(entry)
    stated: dict[str, Any] = {"continuous_power": inverter.limit_w}
    if options.tell_efficiency:
        stated["idle_power"] = round(inverter.idle_w)
        stated["efficiency"] = inverter.stated_efficiency
    description: dict[str, Any] = {
        "name": name,
        "latitude": options.latitude,
        "longitude": options.longitude,
        "time_zone": options.time_zone,
        "sensors": sensors,
        "bank": {
            "capacity_ah": bank.capacity_ah,
            "nominal_voltage": bank.cells * 3.2,
            "reserve_soc": bank.reserve_soc,
            "chemistry": "lfp",
        },
        "inverter": stated,
        "solar": {"array_power": array.array_w},
        "appliances": described,
    }
    circuits = sorted({a.circuit for a in appliances if a.circuit is not None})
    if circuits:
        description["circuits"] = [
            {"name": circuit, "breaker_current": 20, "voltage": mains_v}
            | (
                {"relay": "switch." + circuit.lower().replace(" ", "_")}
                if options.relays
                else {}
            )
            for circuit in circuits
        ]
    if dishes:
        description["dishes"] = list(dishes)
    return description
