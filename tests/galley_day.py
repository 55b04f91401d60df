"""Lets time pass aboard Kittiwake in the platform's test harness: loads, sun and bank."""

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant

from .at_home import CURRENT, LOAD, SOC, SOLAR, VOLTAGE, set_sensor, set_sensors, settle

START = "2026-05-11T11:00:00+00:00"
BACKGROUND_W = 120.0


class GalleyDay:
    """A day aboard; everything is told in seconds after its start."""

    def __init__(self, hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> None:
        """Start at noon with a plain boat."""
        self.hass, self.freezer = hass, freezer
        self.at_s = 0.0
        self.load_w, self.solar_w, self.soc = BACKGROUND_W, 0.0, 80.0
        self.lost: set[str] = set()
        freezer.move_to(START)
        set_sensors(hass, BACKGROUND_W)

    def _tell(self) -> None:
        drawn_w = self.load_w / 0.92 - self.solar_w
        # Something aboard always reports.
        volts = 13.0 + self.at_s // 10 % 2 / 100
        for entity_id, value in (
            (SOLAR, self.solar_w),
            (CURRENT, round(-drawn_w / 13.0, 2)),
            (VOLTAGE, volts),
            (SOC, round(self.soc, 1)),
            (LOAD, self.load_w),
        ):
            lost = entity_id in self.lost
            set_sensor(self.hass, entity_id, "unavailable" if lost else value)

    async def live(
        self,
        seconds: float,
        load_w: float | None = None,
        *,
        solar_w: float | None = None,
        soc: float | None = None,
        step_s: float = 10.0,
    ) -> None:
        """Let time pass, with these values from the first moment on."""
        self.load_w = self.load_w if load_w is None else load_w
        self.solar_w = self.solar_w if solar_w is None else solar_w
        self.soc = self.soc if soc is None else soc
        until_s = self.at_s + seconds
        while self.at_s < until_s:
            self._tell()
            self.at_s += step_s
            self.freezer.move_to(START)
            self.freezer.tick(self.at_s)
            await settle(self.hass)

    async def bake(self) -> None:
        """Use the oven: ten minutes and five times one minute of 2000 W, 500 Wh."""
        await self.live(600, 2120)
        for _ in range(5):
            await self.live(120, 120)
            await self.live(60, 2120)
        await self.live(60, 120)
