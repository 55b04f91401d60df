"""What an answer was worth: Wh in the bank a day later, breaches and waiting within.

The worth of a start is what the bank holds a day after the question beside what it would
hold had the dish not been cooked (so 0 at best), less twice the dish where the dish makes
the bank fall below a reserve that it would have kept, less the crew's patience in Wh for
each hour of waiting. The same is reckoned for rules of thumb and for the best start in
hindsight. Questions answered with "hold off" count in no sum, and are told apart.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import sqrt
from statistics import median

from afloat import STEP_H, STEPS_PER_DAY, Outcome, Voyage, open_volts

PATIENCE_WH_PER_H = {"low": 30.0, "middle": 8.0, "high": 1.0}
BREACH_DISHES = 2.0
GREY_SHARE = 0.4
STEP_QUARTER = 3


def bank_wh_per_point(voyage: Voyage) -> float:
    """Return what one percent of the true bank holds."""
    hull = voyage.hull
    return hull.capacity_ah * open_volts(hull, 60.0) / 100.0


@dataclass
class Question:
    """One question with its answer, and every start cooked in truth.

    `starts` are quarter hours apart; `hour` is the boat's clock. Charges in percent.
    """

    boat: str
    day: int
    hour: float
    step: int
    dish_wh: float
    verdict: str
    place: int
    starts: Sequence[Outcome]
    base_lowest: float
    base_end: float
    reserve: float
    point_wh: float
    soc: Sequence[float]
    promised_wh: float | None
    told: tuple[float, float | None]
    chance: float
    grey: bool
    patience: float

    def bank_wh(self, place: int) -> float:
        """Return what a start leaves in the bank a day later, against no dish."""
        return (self.starts[place].soc_end - self.base_end) * self.point_wh

    def caused(self, place: int) -> bool:
        """Return whether a start takes the bank below a reserve it would have kept."""
        return self.starts[place].lowest < self.reserve <= self.base_lowest

    def worth_wh(self, place: int) -> float:
        """Return the worth of a start."""
        return (
            self.bank_wh(place)
            - BREACH_DISHES * self.dish_wh * self.caused(place)
            - self.patience * place / 4.0
        )

    @property
    def best(self) -> int:
        """The best start in hindsight."""
        return max(range(len(self.starts)), key=self.worth_wh)

    @property
    def safe_somewhere(self) -> bool:
        """Whether some start keeps the reserve."""
        return any(s.lowest >= self.reserve for s in self.starts)


def at_clock(hour: float) -> Callable[[Question], int]:
    """Return the rule that cooks at an hour of the clock where it is in reach, else now."""

    def rule(question: Question) -> int:
        place = round((hour - question.hour) % 24.0 * 4.0)
        return place if place < len(question.starts) else 0

    return rule


def above_reserve(question: Question) -> int:
    """Cook as soon as the charge is a tenth above the reserve, now where it never is."""
    for place, soc in enumerate(question.soc):
        if soc >= question.reserve + 10.0:
            return place
    return 0


RULES: dict[str, Callable[[Question], int]] = {
    "advice": lambda q: q.place,
    "now": lambda q: 0,
    "noon": at_clock(12.0),
    "14:00": at_clock(14.0),
    "reserve_and_a_tenth": above_reserve,
}


@dataclass
class Sun:
    """Remaining sun of a day as told about noon, and as it came, Wh."""

    told_wh: float
    true_wh: float
    morning_share: float
    day_share: float


@dataclass
class Ledger:
    """All questions of one boat, or of several."""

    questions: list[Question] = field(default_factory=list)
    suns: list[Sun] = field(default_factory=list)

    def add(self, other: Ledger) -> None:
        """Add another boat's."""
        self.questions.extend(other.questions)
        self.suns.extend(other.suns)

    def report(self) -> dict[str, object]:
        """Return the figures."""
        held = [q for q in self.questions if q.verdict == "hold_off"]
        cooked = [q for q in self.questions if q.verdict in ("cook_now", "wait")]
        waits = [q for q in cooked if q.verdict == "wait"]
        now = [q for q in cooked if q.verdict == "cook_now"]
        return {
            "questions": len(self.questions),
            "wh_short_of_hindsight": {
                name: round(
                    sum(q.worth_wh(q.best) - q.worth_wh(rule(q)) for q in cooked)
                )
                for name, rule in RULES.items()
            },
            "waits": _waits(waits),
            "now": len(now),
            "breach_caused_after_now": _share(sum(q.caused(0) for q in now), len(now)),
            "holds": {
                "holds": len(held),
                "safe_in_hindsight": _share(
                    sum(q.safe_somewhere for q in held), len(held)
                ),
                "short_without_the_dish": sum(q.base_lowest < q.reserve for q in held),
            },
            "lowest_10_to_90": _coverage(cooked),
            "lowest_10_to_90_grey": _coverage([q for q in cooked if q.grey]),
            "chance_told_against_kept": _tenths(cooked),
            "grey_sun_told_over_true": _suns(
                [s for s in self.suns if s.morning_share < GREY_SHARE]
            ),
            "grey_day_sun_told_over_true": _suns(
                [s for s in self.suns if s.day_share < GREY_SHARE]
            ),
            "clear_sun_told_over_true": _suns(
                [s for s in self.suns if s.morning_share > 0.8]
            ),
        }


def _share(part: float, whole: float) -> float | None:
    return round(part / whole, 3) if whole else None


def _waits(waits: Sequence[Question]) -> dict[str, object]:
    gains = [q.worth_wh(q.place) - q.worth_wh(0) for q in waits]
    banks = [
        q.bank_wh(q.place)
        - q.bank_wh(0)
        + BREACH_DISHES * q.dish_wh * (q.caused(0) - q.caused(q.place))
        for q in waits
    ]
    promised = [q.promised_wh for q in waits if q.promised_wh is not None]
    return {
        "waits": len(waits),
        "cost_more_than_now": _share(sum(g < 0 for g in gains), len(waits)),
        "left_less_than_now": _share(sum(b < 0 for b in banks), len(waits)),
        "came_true_wh": round(sum(banks), 1),
        "promised_wh": round(sum(promised), 1) if promised else None,
        "true_over_promised": _share(sum(banks), sum(promised)) if promised else None,
        "below_a_twentieth": sum(
            q.promised_wh < 0.05 * q.dish_wh for q in waits if q.promised_wh is not None
        ),
        "mean_hours": _share(sum(q.place for q in waits) / 4.0, len(waits)),
    }


def _coverage(questions: Sequence[Question]) -> dict[str, float | None]:
    ranges = [q for q in questions if q.told[1] is not None]
    days = len({(q.boat, q.day) for q in questions})
    lows = [(q.told[0], q.told[1], q.starts[q.place].lowest) for q in ranges]
    return {
        "inside": _share(
            sum(low <= true <= (high or 0.0) for low, high, true in lows), len(lows)
        ),
        "below": _share(
            sum(q.starts[q.place].lowest < q.told[0] for q in questions), len(questions)
        ),
        "two_standard_errors": round(2 * sqrt(0.16 / days), 3) if days else None,
    }


def _tenths(questions: Sequence[Question]) -> dict[str, list[float]]:
    """Return by tenth of the told chance: how often, told on average, kept."""
    out: dict[str, list[float]] = {}
    for tenth in range(10):
        found = [q for q in questions if min(int(q.chance * 10.0), 9) == tenth]
        if found:
            kept = sum(q.starts[q.place].lowest >= q.reserve for q in found)
            told = sum(q.chance for q in found) / len(found)
            out[f"{tenth / 10:.1f}"] = [
                len(found), round(told, 3), round(kept / len(found), 3)
            ]  # fmt: skip
    return out


def _suns(suns: Sequence[Sun]) -> list[float] | None:
    """Return how many, and the median of told over true."""
    ratios = [s.told_wh / s.true_wh for s in suns if s.true_wh > 0.0]
    return [len(ratios), round(median(ratios), 3)] if ratios else None


def remaining_sun(
    voyage: Voyage, step: int, hour: float, told: Sequence[tuple[float, float]]
) -> Sun | None:
    """Return the day's remaining sun, told and true; None where little is to come.

    `told` is W by quarter hour from `step` on; up to twelve hours ahead are the day's.
    """
    ahead = range(step, step + STEPS_PER_DAY // 2)
    morning = range(max(step - int(hour / STEP_H), 0), step)
    whole = range(morning.start, ahead.stop)

    def share(steps: range) -> float:
        clear = sum(voyage.clear_w[i] for i in steps)
        return sum(voyage.sun_w[i] for i in steps) / clear if clear else 1.0

    if sum(voyage.clear_w[i] for i in ahead) * STEP_H < 0.5 * voyage.hull.array_w:
        return None
    return Sun(
        sum(w for _, w in told[: STEPS_PER_DAY // 2 // STEP_QUARTER]) / 4.0,
        sum(voyage.sun_w[i] for i in ahead) * STEP_H,
        share(morning),
        share(whole),
    )
