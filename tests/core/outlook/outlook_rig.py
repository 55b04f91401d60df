"""A boat that lives through days, for tests of what is learnt and advised.

Sun, bank and crew follow plain rules that a test states: a clear-sky index by time, a constant
background, meals at fixed boat times. Steps are five minutes.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from custom_components.galley_loads.core.boat.boat import Boat, Dish
from custom_components.galley_loads.core.meals.meal_builder import Meal
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.outlook.outlook import Outlook
from custom_components.galley_loads.core.sky.clear_sky import haurwitz_w_m2
from custom_components.galley_loads.core.sky.sun import SunPosition, sun_position
from tests.core.boats import small_boat

STEP_S = 300.0
DAY_S = 86_400.0
TRUE_YIELD = 0.75
EFFICIENCY = 0.9

DISHES = (
    Dish("Porridge", {"Hob": 15.0}, 120.0),
    Dish("Fish stew", {"Hob": 25.0}, 420.0),
    Dish("Roast", {"Oven": 60.0}, 1100.0),
)


def unix(text: str) -> float:
    """Return the Unix time of an ISO text, UTC where it has no offset."""
    moment = datetime.fromisoformat(text)
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()


def cooking_boat(**changes: object) -> Boat:
    """Return the small boat with dishes."""
    return small_boat(**{"dishes": DISHES, **changes})


@dataclass(frozen=True)
class Use:
    """A meal or hot water that comes every day at a boat time."""

    label: str
    hour: float
    minutes: float
    energy_wh: float


DINNER = Use("dinner", 19.0, 45, 600.0)
BREAKFAST = Use("breakfast", 8.0, 20, 180.0)


@dataclass
class Life:
    """How the days go. Everything may be replaced by a test."""

    boat: Boat
    background_w: float = 60.0
    clear_sky_index: Callable[[float], float] = lambda at_s: 1.0
    shade: Callable[[SunPosition], float] = lambda sun: 1.0
    uses: tuple[Use, ...] = (BREAKFAST, DINNER)
    soc: float = 70.0
    capacity_ah: float = 560.0
    temperature_c: float | None = None
    position: tuple[float, float] | None = None
    gauge: bool = True
    hide: Callable[[float, LoadSample], LoadSample] = lambda at_s, sample: sample
    soc_by_time: dict[float, float] = field(default_factory=dict)

    def sun_w(self, at_s: float) -> float:
        """Return what the array could give."""
        if self.boat.solar is None:
            return 0.0
        place = self.position or (self.boat.latitude, self.boat.longitude)
        sun = sun_position(*place, at_s)
        level = haurwitz_w_m2(sun.zenith_deg) / 1000.0 * self.boat.solar.array_power_w
        return level * TRUE_YIELD * self.shade(sun) * self.clear_sky_index(at_s)

    def _galley_w(self, at_s: float) -> float:
        local = datetime.fromtimestamp(at_s, UTC).astimezone(self.boat.time_zone)
        hour = local.hour + local.minute / 60.0
        return sum(
            use.energy_wh / (use.minutes / 60.0)
            for use in self.uses
            if use.hour <= hour < use.hour + use.minutes / 60.0
        )

    def live(self, outlook: Outlook, start_s: float, days: float) -> float:
        """Feed the outlook; return the time of the last sample."""
        at_s = start_s
        while at_s < start_s + days * DAY_S:
            self._step(outlook, at_s)
            at_s += STEP_S
        outlook.observe(self._sample(at_s, 0.0, 0.0, 0.0))
        return at_s

    def _step(self, outlook: Outlook, at_s: float) -> None:
        galley_w = self._galley_w(at_s)
        sun_w = self.sun_w(at_s + STEP_S / 2)
        demand_w = self.background_w + galley_w / EFFICIENCY
        net_w = sun_w - demand_w
        point_wh = self.capacity_ah * self.boat.bank.nominal_voltage_v / 100.0
        room_w = (100.0 - self.soc) * point_wh / (STEP_S / 3600.0)
        if net_w > room_w:
            sun_w -= net_w - room_w
            net_w = room_w
        self.soc_by_time[at_s] = self.soc
        outlook.observe(self._sample(at_s, galley_w, sun_w, net_w))
        self.soc = max(self.soc + net_w * STEP_S / 3600.0 / point_wh, 0.0)
        self._settle(outlook, at_s + STEP_S)

    def _sample(
        self, at_s: float, galley_w: float, sun_w: float, net_w: float
    ) -> LoadSample:
        sensors = self.boat.sensors
        sample = LoadSample(
            at_s,
            galley_w,
            sun_w if sensors.solar_power else None,
            None,
            net_w,
            None,
            self.boat.bank.nominal_voltage_v,
            self.soc if self.gauge else None,
            temperature_c=self.temperature_c,
        )
        return self.hide(at_s, sample)

    def _settle(self, outlook: Outlook, at_s: float) -> None:
        """Tell of uses half an hour after they end, and that time has passed."""
        settled_s = at_s - 1800.0
        for use in self.uses:
            length_s = use.minutes * 60.0
            local = datetime.fromtimestamp(settled_s - length_s, UTC).astimezone(
                self.boat.time_zone
            )
            midnight = local.replace(hour=0, minute=0, second=0, microsecond=0)
            begin_s = (midnight + timedelta(hours=use.hour)).timestamp()
            if settled_s - STEP_S < begin_s + length_s <= settled_s:
                outlook.settle_span(begin_s, begin_s + length_s, use.energy_wh)
                outlook.settle_meal(meal_of(use, begin_s))
        outlook.settle_span(settled_s - STEP_S, settled_s, 0.0)


def meal_of(use: Use, start_s: float) -> Meal:
    """Return a use as a settled meal."""
    end_s = start_s + use.minutes * 60.0
    return Meal(
        start_s, end_s, use.label, ("Hob",), use.energy_wh,
        0.0, 0.0, None, None, None, None, (),
    )  # fmt: skip


def broken_clouds(at_s: float) -> float:
    """A sky that differs from day to day and from hour to hour, always the same way."""
    day, hour = int(at_s // DAY_S), int(at_s // 3600)
    level = (0.95, 0.55, 0.85, 0.3, 0.9, 0.7, 0.98)[day * 5 % 7]
    wobble = ((hour * 2654435761) % 97) / 97.0 - 0.5
    return min(max(level + 0.25 * wobble, 0.08), 1.0)
