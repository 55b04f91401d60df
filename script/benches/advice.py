"""How good is the advice? Boats over sixty days each, against hindsight.

    script/bench advice [--days 60] [--boats 4] [--drawn N] [--seed 1] [--json OUT.json]

Four boats that stay the same, or as many as are wanted drawn by the seed. Each boat is asked four times a day about a small and a large dish, with and without a
solar forecast. Every possible start is then cooked in truth. Reported apart, never netted:
regret in amp-hours drawn (against always cooking now, and against hindsight), breaches of
the reserve after `cook_now`, sun turned away after `wait`, coverage of the 10 to 90 %
range of the sun's power, its error against clear-sky persistence, and the time it takes.
Then what the answers were worth beside rules of thumb (`worth.py`): Wh in the bank a day
later, breaches and waiting within; what waits promised against what came; the ranges.
"""

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
import json
from pathlib import Path
import random
from statistics import median
import time
from zoneinfo import ZoneInfo

from afloat import STEP_S, STEPS_PER_DAY, Hull, Outcome, Voyage, cook, hulls, sail
from fleet import drawn_hulls
from worth import PATIENCE_WH_PER_H, Ledger, Question, bank_wh_per_point, remaining_sun

from custom_components.galley_loads.core.advice import (
    Advice,
    DishRequest,
    Verdict,
    advise,
)
from custom_components.galley_loads.core.advice.plan import plan_day
from custom_components.galley_loads.core.advice.request import DEFAULT_WINDOW_HOURS
from custom_components.galley_loads.core.boat.boat import (
    Appliance,
    Bank,
    Boat,
    Chemistry,
    Dish,
    Inverter,
    Sensor,
    Sensors,
    Solar,
)
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.meals.meal_builder import Meal
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.outlook.outlook import Outlook
from custom_components.galley_loads.core.sky.solar_forecast import ForecastPeriod

WARM_UP_DAYS = 14
SETTLING_STEPS = 6
ASK_HOURS = (7.5, 11.5, 15.5, 19.5)
DISHES = (("small", 150.0, 20), ("large", 900.0, 60))
PLANNED = (
    DishRequest(Dish("Porridge", {"Hob": 15.0}, 130.0)),
    DishRequest(Dish("Bread", {"Oven": 50.0}, 550.0)),
    DishRequest(Dish("Stew", {"Hob": 40.0}, 420.0)),
    DishRequest(Dish("Hot water", {"Heater": 30.0}, 450.0)),
)
COOKED_SPREAD = 0.12
WAYS = [("without", False), ("with", True)]
STARTS = int(DEFAULT_WINDOW_HOURS * 4) + 1


def boat_of(hull: Hull) -> Boat:
    """Return the hull as its owner states it."""
    zone = ZoneInfo(hull.time_zone)
    return Boat(
        hull.name,
        hull.latitude,
        hull.longitude,
        zone,
        Sensors(
            ac_load_power=Sensor("sensor.ac"),
            solar_power=(Sensor("sensor.sun"),),
            other_charging_power=(Sensor("sensor.engine"),),
            battery_power=Sensor("sensor.bank"),
            battery_voltage=Sensor("sensor.volts"),
            battery_soc=Sensor("sensor.soc"),
        ),
        Bank(
            hull.stated_capacity_ah,
            hull.nominal_v,
            hull.reserve_soc,
            Chemistry(hull.chemistry)
            if hull.chemistry
            else (Chemistry.AGM if hull.lead else Chemistry.LFP),
        ),
        Inverter(3000.0, 18.0, 0.92),
        Solar(hull.array_w),
        (
            Appliance("Hob", catalogue.INDUCTION_HOB, 1800.0),
            Appliance("Oven", catalogue.OVEN, 1500.0),
            Appliance("Heater", catalogue.WATER_HEATER, 1200.0),
        ),
        (),
        tuple(
            Dish(name, {"Hob": float(minutes)}, energy)
            for name, energy, minutes in DISHES
        ),
    )


def sample_of(voyage: Voyage, step: int) -> LoadSample:
    """Return what the boat's meters said during a step."""
    ac = voyage.galley_w[step]
    return LoadSample(
        voyage.start_s + step * STEP_S,
        float(round(ac)),
        float(round(voyage.taken_w[step])),
        float(round(voyage.engine_w[step])),
        float(round(voyage.battery_w[step])),
        None,
        round(voyage.volts[step], 2),
        float(min(max(round(voyage.soc[step - 1 if step else 0]), 0), 100)),
    )


def forecast_of(voyage: Voyage, step: int, rng: random.Random) -> list[ForecastPeriod]:
    """Return an hourly forecast for two days: the truth smoothed, biased and blurred."""
    periods = []
    bias = 1.0 + rng.gauss(0, 0.16)
    for hour in range(48):
        first = step + hour * 12
        if first + 12 > len(voyage.sun_w):
            break
        wide = range(max(first - 18, 0), min(first + 30, len(voyage.sun_w)))
        clear = sum(voyage.clear_w[i] for i in wide) or 1.0
        share = sum(voyage.sun_w[i] for i in wide) / clear
        told = min(max((0.8 * share + 0.15) * bias + rng.gauss(0, 0.08), 0.05), 1.1)
        energy = told * sum(voyage.clear_w[first : first + 12]) * STEP_S / 3600.0
        start_s = voyage.start_s + first * STEP_S
        periods.append(ForecastPeriod(start_s, start_s + 3600.0, energy))
    return periods


@dataclass
class Score:
    """What one boat's answers came to."""

    asks: int = 0
    verdicts: dict[str, int] = field(default_factory=dict)
    regret_ah: float = 0.0
    regret_now_ah: float = 0.0
    drawn_ah: float = 0.0
    drawn_now_ah: float = 0.0
    drawn_best_ah: float = 0.0
    cook_now: int = 0
    breaches: int = 0
    breaches_without_dish: int = 0
    waits: int = 0
    refused_after_wait_wh: float = 0.0
    refused_if_now_wh: float = 0.0
    held_off: int = 0
    held_off_rightly: int = 0
    inside: int = 0
    counted: int = 0
    below: int = 0
    soc_inside: int = 0
    soc_counted: int = 0
    error_w: float = 0.0
    persistence_error_w: float = 0.0
    times_ms: list[float] = field(default_factory=list)
    plan_times_ms: list[float] = field(default_factory=list)
    ledger: Ledger = field(default_factory=Ledger)

    def add(self, other: Score) -> None:
        """Add what another boat's answers came to."""
        for name in self.__dataclass_fields__:
            mine, its = getattr(self, name), getattr(other, name)
            if isinstance(mine, dict):
                for key, value in its.items():
                    mine[key] = mine.get(key, 0) + value
            elif isinstance(mine, list):
                mine.extend(its)
            elif isinstance(mine, Ledger):
                mine.add(its)
            else:
                setattr(self, name, mine + its)

    @property
    def regret_skill(self) -> float:
        """1 less the regret of following advice over that of always cooking now."""
        if not self.regret_now_ah:
            return 0.0
        return 1.0 - self.regret_ah / self.regret_now_ah

    def report(self) -> dict[str, object]:
        """Return the figures."""

        def share(part: float, whole: float) -> float:
            return round(part / whole, 4) if whole else 0.0

        return {
            "asks": self.asks,
            "verdicts": self.verdicts,
            "regret_skill": round(self.regret_skill, 4),
            "drawn_ah_now": round(self.drawn_now_ah, 1),
            "drawn_ah_advised": round(self.drawn_ah, 1),
            "drawn_ah_hindsight": round(self.drawn_best_ah, 1),
            "breaches_after_cook_now": share(self.breaches, self.cook_now),
            "of_these_without_the_dish_too": share(
                self.breaches_without_dish, self.cook_now
            ),
            "turned_away_wh_after_wait": share(self.refused_after_wait_wh, self.waits),
            "turned_away_wh_had_it_been_now": share(self.refused_if_now_wh, self.waits),
            "held_off": self.held_off,
            "held_off_rightly": self.held_off_rightly,
            "range_coverage": share(self.inside, self.counted),
            "range_below": share(self.below, self.counted),
            "soc_range_coverage": share(self.soc_inside, self.soc_counted),
            "skill_against_persistence": round(
                1 - self.error_w / self.persistence_error_w, 4
            )
            if self.persistence_error_w
            else 0.0,
            "median_cpu_ms": round(median(self.times_ms), 2) if self.times_ms else 0.0,
            "plan_of_four_median_cpu_ms": round(median(self.plan_times_ms), 2)
            if self.plan_times_ms
            else 0.0,
            **self.ledger.report(),
        }


class Truth:
    """Every start of every ask, cooked in truth once and used for all variants."""

    def __init__(self, voyage: Voyage, seed: int) -> None:
        """Start with nothing cooked."""
        self._voyage = voyage
        self._rng = random.Random(f"cook {seed}")
        self._cooked: dict[tuple[int, str], list[Outcome]] = {}

    def starts(
        self, step: int, name: str, energy: float, minutes: int
    ) -> list[Outcome]:
        """Return what each quarter-hour start from a step on comes to."""
        key = (step, name)
        if key not in self._cooked:
            real = energy * max(1.0 + COOKED_SPREAD * self._rng.gauss(0, 1), 0.4)
            count = max(minutes // 5, 1)
            self._cooked[key] = [
                cook(self._voyage, step + 3 * i, count, real, STEPS_PER_DAY - 3 * i)
                for i in range(STARTS)
            ]
        return self._cooked[key]


def ask_steps(voyage: Voyage, days: int) -> list[int]:
    """Return the steps at which the crew asks."""
    zone = ZoneInfo(voyage.hull.time_zone)
    boat_day = WARM_UP_DAYS * STEPS_PER_DAY
    steps = []
    first = time_of_day(voyage, boat_day, zone)
    for day in range(days):
        for hour in ASK_HOURS:
            step = boat_day + day * STEPS_PER_DAY + round((hour - first) % 24 * 12)
            steps.append(step)
    return steps


def time_of_day(voyage: Voyage, step: int, zone: ZoneInfo) -> float:
    """Return the boat's clock at a step, hours."""
    local = datetime.fromtimestamp(voyage.start_s + step * STEP_S, UTC).astimezone(zone)
    return local.hour + local.minute / 60.0


def run_boat(
    hull: Hull, voyage: Voyage, truth: Truth, days: int, forecast: bool, seed: int
) -> Score:
    """Feed the voyage to an outlook and ask it on the way."""
    boat = boat_of(hull)
    outlook = Outlook(boat)
    score = Score()
    asks = set(ask_steps(voyage, days))
    rng = random.Random(f"forecast {hull.name} {seed}")
    uses = list(voyage.uses)
    told = 0
    for step in range(max(asks) + 1):
        outlook.observe(sample_of(voyage, step))
        while told < len(uses) and uses[told][1] + SETTLING_STEPS <= step:
            settle_use(outlook, voyage, uses[told])
            told += 1
        if step >= SETTLING_STEPS:
            past = step - SETTLING_STEPS
            start_s = voyage.start_s + past * STEP_S
            energy_wh = voyage.galley_w[past] * STEP_S / 3600.0
            outlook.settle_span(start_s, start_s + STEP_S, energy_wh)
        if forecast and step % 72 == 0:
            at_s = voyage.start_s + step * STEP_S
            outlook.observe_forecast(at_s, forecast_of(voyage, step, rng))
        if step in asks:
            ask(outlook, voyage, truth, step, score)
    return score


def settle_use(
    outlook: Outlook, voyage: Voyage, use: tuple[int, int, str, float]
) -> None:
    """Tell the outlook of a settled meal or of hot water."""
    first, last, label, energy = use
    start_s, end_s = (voyage.start_s + k * STEP_S for k in (first, last))
    outlook.settle_meal(
        Meal(start_s, end_s, label, ("Hob",), energy, 0, 0, None, None, None, None, ())
    )


def ask(
    outlook: Outlook, voyage: Voyage, truth: Truth, step: int, score: Score
) -> None:
    """Ask about each dish, and hold the answers against what truly was."""
    at_s = voyage.start_s + step * STEP_S
    view = outlook.view()
    if score.asks % 32 == 0:
        began = time.process_time()
        plan_day(view, PLANNED, at_s)
        score.plan_times_ms.append((time.process_time() - began) * 1000.0)
    for number, (name, energy, minutes) in enumerate(DISHES):
        dish = next(d for d in outlook.boat.dishes if d.name == name)
        began = time.process_time()
        advice = advise(view, DishRequest(dish), at_s)
        score.times_ms.append((time.process_time() - began) * 1000.0)
        starts = truth.starts(step, name, energy, minutes)
        judge(advice, starts, voyage, step, score)
        score.ledger.questions.append(question(advice, starts, voyage, step, energy))
        if number == 0:
            judge_forecast(advice, voyage, step, score)
            hour = time_of_day(voyage, step, outlook.boat.time_zone)
            if 11.0 <= hour < 12.0:
                told = [(f.at_s, f.solar_w) for f in advice.forecast]
                sun = remaining_sun(voyage, step, hour, told)
                score.ledger.suns.extend([] if sun is None else [sun])


def judge(
    advice: Advice, starts: Sequence[Outcome], voyage: Voyage, step: int, score: Score
) -> None:
    """Count what following the answer came to."""
    reserve = voyage.hull.reserve_soc
    score.asks += 1
    verdict = advice.verdict
    score.verdicts[verdict.value] = score.verdicts.get(verdict.value, 0) + 1
    safe = [s for s in starts if s.lowest >= reserve]
    if verdict is Verdict.HOLD_OFF:
        score.held_off += 1
        score.held_off_rightly += not safe
        return
    best = min(s.drawn_ah for s in (safe or starts))
    at = round((advice.start_s - advice.at_s) / 900.0)
    chosen, now = starts[at], starts[0]
    score.drawn_ah += chosen.drawn_ah
    score.drawn_now_ah += now.drawn_ah
    score.drawn_best_ah += best
    score.regret_ah += max(chosen.drawn_ah - best, 0.0)
    score.regret_now_ah += max(now.drawn_ah - best, 0.0)
    if verdict is Verdict.COOK_NOW:
        score.cook_now += 1
        if now.lowest < reserve:
            score.breaches += 1
            base = min(voyage.soc[step - 1 : step + STEPS_PER_DAY])
            score.breaches_without_dish += base < reserve
    else:
        score.waits += 1
        score.refused_after_wait_wh += chosen.refused_wh
        score.refused_if_now_wh += now.refused_wh


def question(
    advice: Advice,
    starts: Sequence[Outcome],
    voyage: Voyage,
    step: int,
    dish_wh: float,
) -> Question:
    """Return a question with its answer and what truly was."""
    day = range(step, step + STEPS_PER_DAY)
    sun_w = sum(voyage.sun_w[i] for i in day)
    clear_w = sum(voyage.clear_w[i] for i in day)
    place = 0
    if advice.start_s is not None:
        place = round((advice.start_s - advice.at_s) / 900.0)
    told = next((s for s in advice.starts if s.at_s == advice.start_s), None)
    return Question(
        voyage.hull.name,
        step // STEPS_PER_DAY,
        time_of_day(voyage, step, ZoneInfo(voyage.hull.time_zone)),
        step,
        dish_wh,
        advice.verdict.value,
        place,
        starts,
        min(voyage.soc[step - 1 : day.stop]),
        voyage.soc[day.stop - 1],
        voyage.hull.reserve_soc,
        bank_wh_per_point(voyage),
        [voyage.soc[step - 1 + 3 * i] for i in range(len(starts))],
        getattr(advice, "gain_wh", None),
        (advice.soc_lowest_p10 or 0.0, getattr(told, "soc_lowest_p90", None)),
        0.0 if told is None else told.chance_above_reserve,
        sun_w < 0.4 * clear_w,
        PATIENCE_WH_PER_H["middle"],
    )


def judge_forecast(advice: Advice, voyage: Voyage, step: int, score: Score) -> None:
    """Count how the ranges held, by daylight quarter hour."""
    # Clear-sky persistence: the last hour's power in the shape of a clear sky, at night
    # the last day's.
    back = 12 if sum(voyage.level_w_m2[step - 12 : step]) > 12 * 30.0 else STEPS_PER_DAY
    shape = sum(voyage.level_w_m2[step - back : step])
    held = sum(voyage.sun_w[step - back : step]) / max(shape, 1.0)
    for i, told in enumerate(advice.forecast):
        first = step + 3 * i
        true_w = sum(voyage.sun_w[first : first + 3]) / 3.0
        clear_w = sum(voyage.clear_w[first : first + 3]) / 3.0
        level = sum(voyage.level_w_m2[first : first + 3]) / 3.0
        if clear_w < 0.03 * voyage.hull.array_w:
            continue
        score.counted += 1
        score.below += true_w < told.solar_w_p10
        score.inside += told.solar_w_p10 <= true_w <= told.solar_w_p90
        score.error_w += abs(told.solar_w - true_w)
        score.persistence_error_w += abs(held * level - true_w)
    told = advice.forecast[-1]
    if min(voyage.soc[step : step + STEPS_PER_DAY]) > 0:
        score.soc_counted += 1
        truth = voyage.soc[step + 3 * (len(advice.forecast) - 1)]
        score.soc_inside += told.soc_p10 <= truth <= told.soc_p90


def main(argv: Sequence[str] | None = None) -> int:
    """Run the bench and print its figures."""
    parser = argparse.ArgumentParser(prog="script/bench advice", description=__doc__)
    parser.add_argument("--days", type=int, default=60)
    parser.add_argument("--boats", type=int, default=4)
    parser.add_argument("--drawn", type=int, default=0, help="boats drawn by the seed")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--no-forecast", action="store_true", help="only without one")
    parser.add_argument("--json", type=Path)
    given = parser.parse_args(argv)
    report: dict[str, dict[str, object]] = {}
    ways = [("without", False)] if given.no_forecast else WAYS
    totals = {which: Score() for which, _ in ways}
    drawn = drawn_hulls(given.seed, given.drawn)
    for hull in drawn or hulls()[: given.boats]:
        voyage = sail(hull, given.seed, WARM_UP_DAYS + given.days + 3)
        truth = Truth(voyage, given.seed)
        for which, forecast in ways:
            score = run_boat(hull, voyage, truth, given.days, forecast, given.seed)
            totals[which].add(score)
            report[f"{hull.name}, {which} forecast"] = score.report()
            show(f"{hull.name}, {which} forecast", score)
    for which, score in totals.items():
        report[f"all, {which} forecast"] = score.report()
        show(f"all, {which} forecast", score)
    if given.json is not None:
        given.json.write_text(json.dumps(report, indent=1))
    return 0


def show(name: str, score: Score) -> None:
    """Print one boat's figures."""
    print(f"\n{name}")
    for key, value in score.report().items():
        print(f"  {key:32} {value}")


if __name__ == "__main__":
    raise SystemExit(main())
