"""The learner behind advice: what the sun, the bank and the crew have shown so far.

Live operation, replay and backfill all feed it the same way: load samples as they come,
and what inference has settled. Asking is apart from learning: `view` hands out an
immutable picture of what is known, and `advice` works on that in whatever thread it likes.
"""

from collections.abc import Iterable, Mapping
from typing import Any, Final

from .activity import Run
from .array_yield import ArrayYield, sky_cell
from .bank_meter import BankMeter
from .boat import Boat
from .charge_state import ChargeCounter
from .clear_sky import haurwitz_w_m2
from .demand_history import DemandHistory
from .dishes import Cookbook, Cooking, cooking_of
from .events import Event, MealSettled, RunSettled, SpanSettled
from .habits import HOT_WATER, USES_KEPT, Use
from .inverter import ConversionMeter
from .ledger import Flow
from .load import LoadSample
from .meals import Meal
from .outlook_view import OutlookView
from .photovoltaic import STANDARD_IRRADIANCE_W_M2
from .quantiles import quantile
from .quarters import QUARTER_S, Quarter, QuarterMeter
from .sky_history import (
    LEAST_ELEVATION_DEG,
    UNKNOWN,
    SkyHistory,
    clearness_of,
    quarter_of,
)
from .sky_outlook import PRIOR_MEMORY, memory_of
from .sky_spread import ISSUE_EVERY_QUARTERS, LOOK_QUARTERS, SpreadKeeper
from .solar_forecast import ForecastPeriod, SolarForecast
from .sun import sun_position

STATE_VERSION: Final = 1
UNSTATED_ARRAY_W: Final = 1000.0
"""Yardstick for an array of unknown nameplate; its yield is learnt against it."""


class Outlook:
    """Everything that advice is made of, for one boat."""

    def __init__(self, boat: Boat) -> None:
        """Start with nothing seen."""
        self.boat = boat
        self._quarters = QuarterMeter(boat)
        self._charge = ChargeCounter(boat)
        self._bank_meter = BankMeter()
        self._conversion = ConversionMeter()
        self._yield = ArrayYield(0.0 if boat.solar is None else None)
        self._sky = SkyHistory()
        self._memory = PRIOR_MEMORY
        self._spread = SpreadKeeper()
        self._demand = DemandHistory(boat.time_zone)
        self._forecast = SolarForecast()
        self._cookbook = Cookbook()
        self._uses: tuple[Use, ...] = ()
        self._position = (boat.latitude, boat.longitude)
        self._temperature_c: float | None = None
        self._first_s: float | None = None
        self._day: int | None = None

    # What comes in

    def observe(self, sample: LoadSample) -> None:
        """Take the next load sample; times never go back."""
        if self._first_s is None:
            self._first_s = sample.at_s
        if sample.temperature_c is not None:
            self._temperature_c = sample.temperature_c
        self._charge.observe(sample)
        for quarter in self._quarters.observe(sample):
            self._learn(quarter)

    def observe_position(self, latitude: float, longitude: float) -> None:
        """Take where the boat lies now (decimal degrees, east positive)."""
        self._position = (latitude, longitude)

    def observe_forecast(self, at_s: float, periods: Iterable[ForecastPeriod]) -> None:
        """Take the owner's solar forecast as it stands at `at_s`."""
        self._forecast.observe(at_s, periods, self._clear_w)

    def settle(self, event: Event) -> None:
        """Take something that the engine has settled."""
        match event:
            case SpanSettled():
                self._settle_flow(event.flow)
            case RunSettled():
                self.settle_run(event.run)
            case MealSettled():
                self.settle_meal(event.meal)

    def _settle_flow(self, flow: Flow) -> None:
        galley_wh = sum(share.energy_wh for share in flow.runs.values())
        self.settle_span(flow.start_s, flow.end_s, galley_wh)

    def settle_span(self, start_s: float, end_s: float, galley_wh: float) -> None:
        """Take what the galley's runs took in a span, Wh on the AC side."""
        hours = (end_s - start_s) / 3600.0
        if galley_wh > 0.0 and hours > 0.0:
            conversion = self._conversion.conversion(self.boat.inverter)
            dc_wh = conversion.dish_dc_w(galley_wh / hours) * hours
            self._demand.note_galley(start_s, end_s, dc_wh)
        self._demand.settle(end_s)

    def settle_run(self, run: Run) -> None:
        """Take a run: what its appliance takes, and hot water as a habit."""
        self._cookbook.note_run(run)
        appliance = next(
            (a for a in self.boat.appliances if a.name == run.appliance), None
        )
        if appliance is not None and appliance.kind.is_hot_water:
            self._note_use(Use(run.start_s, run.end_s, HOT_WATER, run.energy_wh))

    def settle_meal(self, meal: Meal) -> None:
        """Take a meal as a habit of the crew."""
        self._note_use(Use(meal.start_s, meal.end_s, meal.label, meal.energy_wh))

    def label_meal(self, meal: Meal, dish: str) -> None:
        """Remember that a meal was a certain dish."""
        self._cookbook.note_cooking(dish, cooking_of(meal))

    def label_cooking(self, cooking: Cooking, dish: str) -> None:
        """Remember a cooking of which only the sums are known."""
        self._cookbook.note_cooking(dish, cooking)

    def unlabel_meal(self, meal: Meal, dish: str) -> None:
        """Take a meal back from a dish."""
        self._cookbook.forget_cooking(dish, meal.start_s)

    def _note_use(self, use: Use) -> None:
        kept = [
            u for u in self._uses if (u.start_s, u.label) != (use.start_s, use.label)
        ]
        kept.append(use)
        kept.sort(key=lambda u: (u.start_s, u.label))
        self._uses = tuple(kept[-USES_KEPT:])

    # What is learnt of a quarter hour

    @property
    def _array_w(self) -> float:
        solar = self.boat.solar
        return UNSTATED_ARRAY_W if solar is None else solar.array_power_w

    def _standard_w(self, zenith_deg: float) -> float:
        """Return nameplate power times clear-sky irradiance, W."""
        return self._array_w * haurwitz_w_m2(zenith_deg) / STANDARD_IRRADIANCE_W_M2

    def _clear_w(self, at_s: float) -> float:
        """Return what the array gives at a time under a clear sky."""
        sun = sun_position(*self._position, at_s)
        if sun.elevation_deg <= 0.0:
            return 0.0
        return self._standard_w(sun.zenith_deg) * self._yield.table[sky_cell(sun)]

    def _learn(self, quarter: Quarter) -> None:
        number = quarter_of(quarter.start_s)
        self._turn_day(number // 96)
        sun = sun_position(*self._position, quarter.start_s + QUARTER_S / 2)
        standard_w = self._standard_w(sun.zenith_deg)
        high = sun.elevation_deg >= LEAST_ELEVATION_DEG
        cell = sky_cell(sun) if high else UNKNOWN
        sees_sun = bool(self.boat.sensors.solar_power)
        ratio: float | None = None
        if high and sees_sun and quarter.solar_w is not None:
            ratio = max(quarter.solar_w, 0.0) / standard_w
        told_w = self._forecast.told_before_w(number)
        self._sky.observe(
            number,
            cell,
            ratio,
            quarter.turned_away,
            told_w / standard_w if told_w is not None and high else None,
        )
        if ratio is not None:
            # A quarter hour of refused sun still counts where it beats what is known.
            usual = self._yield.table[cell]
            if not quarter.turned_away or ratio > usual:
                self._yield.observe(cell, number // 96, ratio)
        self._learn_spread(number, cell, None if quarter.turned_away else ratio)
        self._learn_bank(quarter)
        self._learn_demand(quarter, standard_w, cell)

    def _learn_spread(self, quarter: int, cell: int, ratio: float | None) -> None:
        """Hold the sky against what was expected of it, and expect anew now and then."""
        if ratio is not None:
            self._spread.observe(quarter, ratio / self._yield.table[cell])
        if (quarter + 1) % ISSUE_EVERY_QUARTERS or not self.boat.sensors.solar_power:
            return
        view = self.view()
        at_s = (quarter + 1) * QUARTER_S
        steps = view.steps_ahead(at_s, LOOK_QUARTERS)
        members = view.clearness_ahead(at_s, steps)
        columns = [sorted(column) for column in zip(*members, strict=True)]
        self._spread.issue(
            quarter + 1,
            [quantile(column, 0.1) for column in columns],
            [quantile(column, 0.9) for column in columns],
        )

    def _turn_day(self, day: int) -> None:
        """Once a day, work out anew what takes a moment."""
        if day == self._day:
            return
        self._day = day
        table = self._yield.refresh()
        if self._sky.has_today:
            days = (*self._sky.days, self._sky.today_so_far())
            self._memory = memory_of(clearness_of(days, table))

    @property
    def _sees_bank_side(self) -> bool:
        """Whether every source of the bank's side is metered, so that demand follows."""
        sensors = self.boat.sensors
        sun = bool(sensors.solar_power) or self.boat.solar is None
        return sensors.has_battery_power and sun

    def _learn_bank(self, quarter: Quarter) -> None:
        gauge = quarter.soc if self.boat.sensors.battery_soc is not None else None
        self._bank_meter.observe(quarter.battery_w, quarter.voltage_v, gauge, 0.25)
        if (
            quarter.load_w is not None
            and quarter.battery_w is not None
            and quarter.solar_w is not None
            and quarter.other_w is not None
            and self.boat.sensors.ac_load_power is not None
            and self._sees_bank_side
        ):
            supply_w = quarter.solar_w + quarter.other_w - quarter.battery_w
            self._conversion.observe(quarter.load_w, supply_w, QUARTER_S)

    def _learn_demand(self, quarter: Quarter, standard_w: float, cell: int) -> None:
        solar_w, other_w = quarter.solar_w, quarter.other_w or 0.0
        demand_w: float | None = None
        if self._sees_bank_side:
            # The bank's side sees every draw; the load's meters alone may not, so they
            # do not stand in for it.
            if quarter.battery_w is not None and solar_w is not None:
                demand_w = max(solar_w + other_w - quarter.battery_w, 0.0)
        elif quarter.load_w is not None:
            demand_w = self._conversion.conversion(self.boat.inverter).dc_w(
                max(quarter.load_w, 0.0)
            )
        offered_w = max(solar_w or 0.0, 0.0)
        if quarter.turned_away and cell != UNKNOWN:
            usual_w = standard_w * self._yield.table[cell]
            offered_w = max(offered_w, usual_w * self._recent_clearness())
        self._demand.observe(quarter.start_s, 0.25, demand_w, offered_w, other_w)

    def _recent_clearness(self) -> float:
        """Return the clearness last seen today, 0.7 where today has shown nothing."""
        table = self._yield.table
        today = self._sky.today_so_far()
        seen = [
            ratio * 0.001 / table[cell]
            for ratio, cell in zip(today.ratio, today.cell, strict=True)
            if ratio >= 0 and cell != UNKNOWN
        ][-4:]
        return min(sum(seen) / len(seen), 1.1) if seen else 0.7

    # What goes out

    def view(self) -> OutlookView:
        """Return what is known now, immutable and cheap to make."""
        days = self._sky.days
        if self._sky.has_today:
            days = (*days, self._sky.today_so_far())
        return OutlookView(
            boat=self.boat,
            position=self._position,
            last=self._quarters.last,
            first_s=self._first_s,
            charge=self._charge.state(),
            bank_temperature_c=self._temperature_c,
            point_energy=self._bank_meter.point_energy(self.boat.bank),
            load_voltage=self._bank_meter.load_voltage(self.boat.bank),
            conversion=self._conversion.conversion(self.boat.inverter),
            array_w=self._array_w,
            yield_table=self._yield.table,
            sky_days=days,
            memory=self._memory,
            spread=self._spread.spread,
            forecast_w=dict(self._forecast.power_w),
            background_w=self._demand.profile.table(self._prior_background_w()),
            past_hours=dict(self._demand.hours),
            uses=self._uses,
            cookbook=self._cookbook.page(),
        )

    def _prior_background_w(self) -> float:
        """Return the inverter's idle draw: the least that is surely there."""
        return self._conversion.conversion(self.boat.inverter).idle_w

    def snapshot(self) -> dict[str, Any]:
        """Return the whole state as plain data, fit for JSON."""
        return {
            "version": STATE_VERSION,
            "quarters": self._quarters.snapshot(),
            "charge": self._charge.snapshot(),
            "bank_meter": self._bank_meter.snapshot(),
            "conversion": self._conversion.snapshot(),
            "yield": self._yield.snapshot(),
            "sky": self._sky.snapshot(),
            "spread": self._spread.snapshot(),
            "memory": [list(self._memory.by_hour), list(self._memory.by_night)],
            "demand": self._demand.snapshot(),
            "forecast": self._forecast.snapshot(),
            "cookbook": self._cookbook.snapshot(),
            "uses": [[u.start_s, u.end_s, u.label, u.energy_wh] for u in self._uses],
            "position": list(self._position),
            "temperature_c": self._temperature_c,
            "first_s": self._first_s,
            "day": self._day,
        }

    @classmethod
    def restore(cls, boat: Boat, state: Mapping[str, Any]) -> Outlook:
        """Return the outlook that `snapshot` described.

        Raises:
            ValueError: the state is of a version this outlook cannot read.
        """
        if state.get("version") != STATE_VERSION:
            raise ValueError(
                f"outlook state version {state.get('version')!r} is not {STATE_VERSION}"
            )
        outlook = cls(boat)
        outlook._quarters.restore(state["quarters"])
        outlook._charge.restore(state["charge"], outlook._quarters.last)
        outlook._bank_meter.restore(state["bank_meter"])
        outlook._conversion.restore(state["conversion"])
        outlook._yield.restore(state["yield"])
        outlook._sky.restore(state["sky"])
        outlook._spread.restore(state["spread"])
        by_hour, by_night = state["memory"]
        outlook._memory = type(PRIOR_MEMORY)(tuple(by_hour), (by_night[0], by_night[1]))
        outlook._demand.restore(state["demand"])
        outlook._forecast.restore(state["forecast"])
        outlook._cookbook.restore(state["cookbook"])
        outlook._uses = tuple(Use(*row) for row in state["uses"])
        outlook._position = (state["position"][0], state["position"][1])
        outlook._temperature_c = state["temperature_c"]
        outlook._first_s = state["first_s"]
        outlook._day = state["day"]
        return outlook
