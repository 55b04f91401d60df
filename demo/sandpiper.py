"""Sandpiper, a boat of our own invention, at anchor off Horta."""

from typing import Any

from .simulator.appliances import SimAppliance
from .simulator.boat import SimBackground, SimBoat, SimHabits
from .simulator.hobs import InductionHob
from .simulator.options import SimOptions
from .simulator.ovens import Oven, Toaster
from .simulator.parts import SimArray, SimBank, SimInverter
from .simulator.water import Kettle, WaterBath, WaterHeater

NAME = "Sandpiper"
LATITUDE = 38.53
LONGITUDE = -28.62
TIME_ZONE = "Atlantic/Azores"

INVERTER_OUTPUT = "sensor.inverter_output"
SOLAR_POWER = "sensor.solar_power"
ALTERNATOR_POWER = "sensor.alternator_power"
BANK_CURRENT = "sensor.bank_current"
BANK_VOLTAGE = "sensor.bank_voltage"
BANK_CHARGE = "sensor.bank_state_of_charge"
HEATER_PLUG_POWER = "sensor.water_heater_plug_power"
RELAYS = {"Galley 1": "switch.galley_1", "Galley 2": "switch.galley_2"}

APPLIANCES = (
    SimAppliance(
        name="Hob",
        kind="induction_hob",
        rated_w=1400,
        power_w=1372,
        standby_w=19,
        resistive=False,
        circuit="Galley 1",
        floor_w=275,
        model=InductionHob(
            power_w=1372,
            levels=9,
            continuous_share=0.38,
            pulse_period_s=5.6,
            idle_w=26,
            pan_efficiency=0.84,
            lifts_per_minute=0.12,
        ),
    ),
    SimAppliance(
        name="Kettle",
        kind="kettle",
        rated_w=1500,
        power_w=1462,
        standby_w=0,
        resistive=True,
        circuit="Galley 1",
        model=Kettle(1462, body_j_k=260, ua_w_k=0.9, steam_switch_s=7, water_c=18),
    ),
    SimAppliance(
        name="Oven",
        kind="oven",
        rated_w=1300,
        power_w=1275,
        standby_w=3,
        resistive=True,
        circuit="Galley 2",
        droop=0.01,
        floor_w=255,
        model=Oven(
            1240, fan_w=35, capacity_j_k=3900, ua_w_k=3.6, hysteresis_k=5, food_w_k=1.2
        ),
    ),
    SimAppliance(
        name="Water bath",
        kind="water_bath",
        rated_w=900,
        power_w=885,
        standby_w=2,
        resistive=True,
        circuit="Galley 2",
        floor_w=180,
        model=WaterBath(
            865, pump_w=20, litres=7, ua_w_k=1.9, band_k=1.2, period_s=60, start_c=21
        ),
    ),
    SimAppliance(
        name="Toaster",
        kind="toaster",
        rated_w=700,
        power_w=688,
        standby_w=0,
        resistive=True,
        circuit="Galley 2",
        droop=0.02,
        model=Toaster(688, minutes=2.4),
    ),
    SimAppliance(
        name="Water heater",
        kind="water_heater",
        rated_w=500,
        power_w=492,
        standby_w=0,
        resistive=True,
        model=WaterHeater(492, litres=14, ua_w_k=0.9, goal_c=55, ambient_c=20),
    ),
)

METERED = {"Water heater": {"power_sensor": HEATER_PLUG_POWER}}

DISHES: tuple[dict[str, Any], ...] = (
    {"name": "Fish stew", "appliances": {"Hob": 25}},
    {"name": "Tray of vegetables", "appliances": {"Oven": 45}},
    {"name": "Salmon from the bath", "appliances": {"Water bath": 60, "Hob": 4}},
    {"name": "Pasta", "appliances": {"Hob": 18}, "ready_by": "19:30"},
)

PLANNED_DISH = "Tray of vegetables"
"""What the crew wants to cook next; the boat gives advice on it."""

DESCRIPTION: dict[str, Any] = {
    "name": NAME,
    "latitude": LATITUDE,
    "longitude": LONGITUDE,
    "time_zone": TIME_ZONE,
    "sensors": {
        "ac_load_power": INVERTER_OUTPUT,
        "solar_power": SOLAR_POWER,
        "other_charging_power": ALTERNATOR_POWER,
        "battery_current": BANK_CURRENT,
        "battery_voltage": BANK_VOLTAGE,
        "battery_power_positive": "charging",
        "battery_soc": BANK_CHARGE,
    },
    "bank": {
        "capacity_ah": 560,
        "nominal_voltage": 12.8,
        "reserve_soc": 35,
        "chemistry": "lfp",
        "max_discharge_current": 250,
    },
    "inverter": {"continuous_power": 2500, "idle_power": 18, "efficiency": 0.92},
    "solar": {"array_power": 540},
    "appliances": [
        {
            "name": appliance.name,
            "kind": appliance.kind,
            "rated_power": appliance.rated_w,
        }
        | ({} if appliance.circuit is None else {"circuit": appliance.circuit})
        | METERED.get(appliance.name, {})
        for appliance in APPLIANCES
    ],
    "circuits": [
        {
            "name": name,
            "breaker_current": 16,
            "voltage": 230,
            "relay": relay,
            "idle_minutes": 10,
            "cut": "ask",
        }
        for name, relay in RELAYS.items()
    ],
    "dishes": list(DISHES),
}

OPTIONS = SimOptions(
    latitude=LATITUDE,
    longitude=LONGITUDE,
    time_zone=TIME_ZONE,
    period_s=2.0,
    supply_period_s=5.0,
    quantum_w=10.0,
    noise_w=1.5,
    relays=True,
)

BOAT = SimBoat(
    description=DESCRIPTION,
    appliances=APPLIANCES,
    inverter=SimInverter(
        limit_w=2500, idle_w=18, loss_share=0.06, loss_square=0.025 / 2500
    ),
    bank=SimBank(
        capacity_ah=560,
        cells=4,
        ohm=1.3e-3,
        reserve_soc=35,
        start_soc=84,
        engine_soc=60,
    ),
    array=SimArray(array_w=540, yield_share=0.86, shade_below_deg=10, shade_share=0.4),
    background=SimBackground(
        instruments_w=9,
        fridge_w=46,
        fridge_on_min=11,
        fridge_off_min=24,
        lights_w=18,
        pump_w=64,
        pumps_per_day=16,
        ac_base_w=9,
        laptop_w=42,
        fridge_on_ac=False,
    ),
    habits=SimHabits(
        breakfast_h=8.1,
        lunch_h=12.8,
        dinner_h=18.9,
        hot_drinks_per_day=1.6,
        heater_h=13.5,
        fondness={"oven": 1.3, "water_bath": 1.7, "kettle": 0.7},
    ),
    charger_w=1050,
)
