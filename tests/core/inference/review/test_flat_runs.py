"""The plainest run there is: one appliance, once, at the power on its plate.

A boat on its first day, of which nothing is known but what its crew has named.
"""

import pytest

from custom_components.galley_loads.core.boat.boat import Appliance
from custom_components.galley_loads.core.kinds import catalogue
from tests.core.inference.galley import (
    BATH,
    COFFEE,
    HEATER,
    HOB,
    KETTLE,
    MICROWAVE,
    OVEN,
    RICE,
    TOASTER,
    appliance,
    boat,
    drawn,
    reported,
)

BEGIN_S = 3600.0
HOTPLATE = appliance("Hotplate", catalogue.ELECTRIC_HOB, 1500)
PRESSURE_COOKER = appliance("Pressure cooker", catalogue.PRESSURE_COOKER, 1000)
SLOW_COOKER = appliance("Slow cooker", catalogue.SLOW_COOKER, 250)


@pytest.mark.parametrize(
    ("one", "minutes"),
    [
        (HOB, 3),
        (HOB, 6),
        (HOTPLATE, 10),
        (HOTPLATE, 30),
        (KETTLE, 2),
        (KETTLE, 7),
        (TOASTER, 3),
        (MICROWAVE, 1),
        (MICROWAVE, 10),
        (OVEN, 10),
        (OVEN, 20),
        (PRESSURE_COOKER, 15),
        (PRESSURE_COOKER, 20),
        (RICE, 15),
        (RICE, 30),
        (SLOW_COOKER, 240),
        (COFFEE, 6),
        (BATH, 30),
        (HEATER, 40),
    ],
)
def test_what_runs_once_at_the_power_on_its_plate_is_reported(
    one: Appliance, minutes: float
):
    seconds = 60.0 * minutes
    samples = drawn(
        (BEGIN_S, [(seconds, one.rated_power_w)]), until_s=BEGIN_S + seconds + 4200.0
    )
    (run,) = reported(boat(one), samples)
    assert run.appliance == one.name
    assert run.energy_wh == pytest.approx(one.rated_power_w * minutes / 60.0, rel=0.02)
