"""The crew hears of gauges and meters, and who repairs them of entities too."""

import pytest

from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.boat.sensor_role import (
    Role,
    called,
    called_with_id,
)
from custom_components.galley_loads.core.metering.source import sources_of
from tests.said import said

BOAT = {
    "name": "Petrel",
    "latitude": 38.53,
    "longitude": -28.62,
    "time_zone": "Atlantic/Azores",
    "sensors": {
        "ac_load_power": "sensor.a",
        "dc_load_power": "sensor.b",
        "solar_power": "sensor.c",
        "other_charging_power": "sensor.d",
        "battery_power": "sensor.e",
        "battery_current": "sensor.f",
        "battery_voltage": "sensor.g",
        "battery_soc": "sensor.h",
        "battery_temperature": "sensor.i",
    },
    "bank": {"capacity_ah": 400, "nominal_voltage": 12.8, "reserve_soc": 30},
    "appliances": [
        {
            "name": "{Kettle}",
            "kind": "kettle",
            "rated_power": 1500,
            "power_sensor": "sensor.j",
        }
    ],
    "circuits": [
        {
            "name": "Galley 1",
            "breaker_current": 15,
            "voltage": 120,
            "relay": "switch.k",
        }
    ],
}


def test_every_sensor_of_a_boat_is_called_something_of_its_own() -> None:
    sources = {source.role: source for source in sources_of(parse_boat(BOAT))}
    assert set(sources) == set(Role)
    names = {said(source.called) for source in sources.values()}
    assert len(names) == len(Role)
    for source in sources.values():
        name, named_with_id = said(source.called), said(source.called_with_id)
        assert name.startswith("the ")
        assert source.entity_id not in name
        assert named_with_id == f"{name} ({source.entity_id})"
        complaint = source.complaint(0.0)
        assert complaint is not None
        assert said(complaint.said) == (
            f"The {named_with_id.removeprefix('the ')} has not been heard yet."
        )


@pytest.mark.parametrize(
    ("role", "owner", "name"),
    [
        (Role.SOC, "", "the battery gauge"),
        (Role.SOLAR, "", "the solar meter"),
        (Role.METER, "{Kettle}", "the meter of {Kettle}"),
        (Role.RELAY, "Galley 1", "the relay of Galley 1"),
    ],
)
def test_it_is_called_as_on_board(role: Role, owner: str, name: str) -> None:
    assert said(called(role, owner)) == name
    assert said(called_with_id(role, "sensor.x", owner)) == f"{name} (sensor.x)"
