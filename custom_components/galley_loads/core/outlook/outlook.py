"""The learner behind advice: what the sun, the bank and the crew have shown so far.

Live operation, replay and backfill all feed it the same way: load samples as they come,
and what inference has settled. Asking is apart from learning: `view` hands out an
immutable picture of what is known, and `advice` works on that in whatever thread it likes.
"""

from collections.abc import Iterable, Sequence
from typing import Final, TypedDict

from ..bank.bank_meter import BankMeter, BankMeterState
from ..bank.charge_state import ChargeCounter, ChargeCounterState
from ..bank.inverter_losses import Conversion, ConversionMeter, ConversionMeterState
from ..boat.boat import Boat
from ..events import Event, MealSettled, RunSettled, SpanSettled
from ..inference.model.activity import Run
from ..ledger.account import Flow
from ..meals.dish_cost import Cookbook, CookbookState, Cooking, cooking_of
from ..meals.meal_builder import Meal
from ..metering.load_sample import LoadSample
from ..metering.quarter_hours import QUARTER_S, Quarter, QuarterMeter, QuarterMeterState
from ..sky.solar_forecast import ForecastPeriod
from ..sky.sun_learner import SunLearner, SunLearnerState
from ..stateful import Row, StateError, from_row, row
from .ac_background import AcBackground, AcBackgroundState
from .charging_habit import ChargingLog, ChargingLogState
from .demand_history import DemandHistory, DemandHistoryState
from .habits import HOT_WATER, USES_KEPT, Use
from .outlook_view import OutlookView

STATE_VERSION: Final = 1


class OutlookState(TypedDict):
    """What `Outlook` saves."""

    version: int
    quarters: QuarterMeterState
    charge: ChargeCounterState
    bank_meter: BankMeterState
    conversion: ConversionMeterState
    sun: SunLearnerState
    demand: DemandHistoryState
    ac_background: AcBackgroundState
    charging: ChargingLogState
    cookbook: CookbookState
    uses: list[Row]
    temperature_c: float | None
    first_s: float | None


class Outlook:
    """Everything that advice is made of, for one boat."""

    def __init__(self, boat: Boat) -> None:
        """Start with nothing seen."""
        self.boat = boat
        self._quarters = QuarterMeter(boat)
        self._charge = ChargeCounter(boat)
        self._bank_meter = BankMeter()
        self._conversion = ConversionMeter()
        self._sun = SunLearner(boat)
        self._demand = DemandHistory(boat.time_zone)
        self._ac_background = AcBackground(boat.sensors)
        bank = boat.bank
        self._charging = ChargingLog(bank.capacity_ah * bank.nominal_voltage_v)
        self._cookbook = Cookbook()
        self._uses: tuple[Use, ...] = ()
        self._temperature_c: float | None = None
        self._first_s: float | None = None

    # What comes in

    def observe(self, sample: LoadSample) -> None:
        """Take the next load sample; times never go back."""
        self.observe_all((sample,))

    def observe_all(self, samples: Sequence[LoadSample]) -> None:
        """Take the next load samples; how many at a time matters not."""
        if not samples:
            return
        if self._first_s is None:
            self._first_s = samples[0].at_s
        if self.boat.sensors.battery_temperature is not None:
            told_c = (s.temperature_c for s in reversed(samples))
            self._temperature_c = next(
                (c for c in told_c if c is not None), self._temperature_c
            )
        self._charge.observe_all(samples)
        for quarter in self._quarters.observe_all(samples):
            self._learn(quarter)

    def start_over(self, at_s: float) -> None:
        """Go on from `at_s`, earlier or later: the clock was set.

        What was learnt of later times than that is forgotten, for it was not then.
        """
        self._quarters = QuarterMeter(self.boat)
        self._charge.start_over()
        self._demand.start_over(at_s)
        self._charging.start_over()
        self._uses = tuple(use for use in self._uses if use.end_s <= at_s)
        if self._first_s is not None:
            self._first_s = min(self._first_s, at_s)

    def observe_position(self, latitude: float, longitude: float) -> None:
        """Take where the boat lies now (decimal degrees, east positive)."""
        self._sun.observe_position(latitude, longitude)

    def observe_forecast(self, at_s: float, periods: Iterable[ForecastPeriod]) -> None:
        """Take the owner's solar forecast as it stands at `at_s`."""
        self._sun.observe_forecast(at_s, periods)

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
        if not self._sees_bank_side:
            # What own meters told while the load was not measured is in no hour's demand.
            galley_wh -= flow.own_meters_wh
        self.settle_span(flow.start_s, flow.end_s, galley_wh)

    def settle_span(self, start_s: float, end_s: float, galley_wh: float) -> None:
        """Take what the galley's runs took in a span, Wh on the AC side."""
        hours = (end_s - start_s) / 3600.0
        if galley_wh > 0.0 and hours > 0.0:
            dc_wh = self._present_conversion.dish_dc_w(galley_wh / hours) * hours
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

    def _learn(self, quarter: Quarter) -> None:
        offered_w = self._sun.observe(quarter)
        self._ac_background.observe(quarter.load_w)
        if self.boat.sensors.other_charging_power:
            soc = self._charge.state().soc if quarter.soc is None else quarter.soc
            self._charging.observe(quarter.start_s, quarter.other_w, soc)
        self._learn_bank(quarter)
        self._learn_demand(quarter, offered_w)

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

    def _learn_demand(self, quarter: Quarter, offered_w: float) -> None:
        other_w = quarter.other_w or 0.0
        demand_w: float | None = None
        if self._sees_bank_side:
            # The bank's side sees every draw; the load's meters alone may not, so they
            # do not stand in for it.
            if quarter.battery_w is not None and quarter.solar_w is not None:
                demand_w = max(quarter.solar_w + other_w - quarter.battery_w, 0.0)
        elif quarter.load_w is not None:
            demand_w = self._present_conversion.dc_w(max(quarter.load_w, 0.0))
        self._demand.observe(quarter.start_s, 0.25, demand_w, offered_w, other_w)

    @property
    def _present_conversion(self) -> Conversion:
        return self._conversion.conversion(self.boat.inverter)

    # What goes out

    def view(self) -> OutlookView:
        """Return what is known now, immutable and cheap to make."""
        conversion = self._present_conversion
        return OutlookView(
            boat=self.boat,
            sky=self._sun.view(),
            last=self._quarters.last,
            first_s=self._first_s,
            charge=self._charge.state(),
            bank_temperature_c=self._temperature_c,
            point_energy=self._bank_meter.point_energy(self.boat.bank),
            load_voltage=self._bank_meter.load_voltage(self.boat.bank),
            conversion=conversion,
            # The inverter's idle draw is the least that is surely there.
            background_w=self._demand.profile.table(conversion.idle_w),
            ac_background_w=self._ac_background.usual_w,
            charging_runs=self._charging.runs,
            past_hours=dict(self._demand.hours),
            uses=self._uses,
            cookbook=self._cookbook.page(),
        )

    def snapshot(self) -> OutlookState:
        """Return the whole state as plain data, fit for JSON."""
        return {
            "version": STATE_VERSION,
            "quarters": self._quarters.snapshot(),
            "charge": self._charge.snapshot(),
            "bank_meter": self._bank_meter.snapshot(),
            "conversion": self._conversion.snapshot(),
            "sun": self._sun.snapshot(),
            "demand": self._demand.snapshot(),
            "ac_background": self._ac_background.snapshot(),
            "charging": self._charging.snapshot(),
            "cookbook": self._cookbook.snapshot(),
            "uses": [row(use) for use in self._uses],
            "temperature_c": self._temperature_c,
            "first_s": self._first_s,
        }

    def restore(self, state: OutlookState) -> None:
        """Take back what `snapshot` gave, into a fresh one of the same boat.

        Raises:
            StateError: the state is of a version this outlook cannot read.
        """
        if state["version"] != STATE_VERSION:
            raise StateError(
                f"outlook state version {state['version']!r} is not {STATE_VERSION}"
            )
        self._quarters.restore(state["quarters"])
        self._charge.restore(state["charge"], self._quarters.last)
        self._bank_meter.restore(state["bank_meter"])
        self._conversion.restore(state["conversion"])
        self._sun.restore(state["sun"])
        self._demand.restore(state["demand"])
        self._ac_background.restore(state["ac_background"])
        self._charging.restore(state["charging"])
        self._cookbook.restore(state["cookbook"])
        self._uses = tuple(from_row(Use, one) for one in state["uses"])
        self._temperature_c = state["temperature_c"]
        self._first_s = state["first_s"]
