"""The bank, its sources and its load as they are looked at every twenty seconds."""

from typing import Final, NamedTuple

from ...boat.boat import Boat
from ..load_sample import LoadSample
from ..quarter_hours import battery_power_w

LOOK_S: Final = 20.0
"""How often the bank is looked at: slow meters have spoken by then."""


class BankLook(NamedTuple):
    """What held at one moment, W on the bank's side; None: not known.

    `given_w` is what sun and other charging are said to give together, `load_w` what a
    load meter says that the bank's side has to give for it.
    """

    battery_w: float | None
    given_w: float | None
    load_w: float | None
    voltage_v: float | None
    soc: float | None


class BankEye:
    """Looks at the bank through the samples of one boat."""

    def __init__(self, boat: Boat) -> None:
        """Take from the boat which meters there are."""
        sensors = boat.sensors
        self._has_load = bool(sensors.ac_load_power or sensors.dc_load_power)
        self._no_sun = boat.solar is None and not sensors.solar_power
        self._no_other = not sensors.other_charging_power
        self._conversion = boat.conversion

    def look(self, sample: LoadSample) -> BankLook:
        """Return what a sample tells of the bank."""
        solar_w = 0.0 if self._no_sun else sample.solar_w
        other_w = 0.0 if self._no_other else sample.other_charging_w
        given_w = None if solar_w is None or other_w is None else solar_w + other_w
        load_w = None
        # Without a load meter the load is made of the bank's own reading.
        if self._has_load and sample.load_w is not None:
            load_w = sample.load_w / self._conversion
        return BankLook(
            battery_power_w(sample), given_w, load_w, sample.voltage_v, sample.soc
        )
