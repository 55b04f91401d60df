"""Meters: what the boat's sensors say about the truth, and how late and how well."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
import heapq
import random

type Row = tuple[str, str, float]
"""(entity_id, state, at_s)."""


@dataclass(frozen=True, slots=True)
class Meter:
    """One sensor: its clock, its resolution and what it measures.

    `truth(at_s)` is the value that a perfect instrument would have shown; the meter shows
    the one of `lag_s` ago, with noise, rounded to `quantum`, and only when it changes.
    """

    entity_id: str
    truth: Callable[[float], float]
    period_s: float
    lag_s: float
    jitter_s: float
    quantum: float
    noise: float
    noise_share: float = 0.0

    def rows(
        self,
        seed: str,
        start_s: float,
        end_s: float,
        outages: list[tuple[float, float, bool]],
    ) -> Iterator[Row]:
        """Yield its changes in order of time.

        `outages` are (from, to, told): told ones show as `unavailable`, others as silence.
        """
        rng = random.Random(f"{seed} {self.entity_id}")
        gauss, uniform, chance = rng.gauss, rng.uniform, rng.random
        digits = 0 if self.quantum >= 1 else _digits(self.quantum)
        last = ""
        pending = list(reversed(outages))
        at_s = start_s + uniform(0, self.period_s)
        while at_s < end_s:
            if pending and at_s >= pending[-1][0]:
                _, until_s, told = pending.pop()
                if told:
                    yield self.entity_id, "unavailable", at_s
                    last = "unavailable"
                at_s = max(at_s, until_s) + uniform(0.1, self.period_s)
                continue
            value = self.truth(at_s - self.lag_s)
            sigma = self.noise + self.noise_share * abs(value)
            if sigma:
                value += gauss(0.0, sigma)
            rounded = round(value / self.quantum) * self.quantum
            text = f"{rounded:.{digits}f}"
            if text.startswith("-") and float(text) == 0:
                text = text[1:]
            if text != last:
                yield self.entity_id, text, at_s
                last = text
            step = self.period_s + gauss(0.0, self.jitter_s)
            if chance() < 0.004:  # a message that was lost
                step += self.period_s
            at_s += max(0.2 * self.period_s, step)


def _digits(quantum: float) -> int:
    return len(f"{quantum:g}".partition(".")[2])


def merge(streams: list[Iterator[Row]]) -> Iterator[Row]:
    """Merge streams that are each in order of time."""
    return heapq.merge(*streams, key=lambda row: row[2])


def disturbed(
    rows: Iterator[Row], seed: str, late: float, doubled: float
) -> Iterator[Row]:
    """Let some rows arrive twice, and some up to a dozen rows late (their time unchanged)."""
    if late <= 0 and doubled <= 0:
        yield from rows
        return
    rng = random.Random(f"{seed} disturbed")
    waiting: list[tuple[int, int, Row]] = []
    for number, row in enumerate(rows):
        while waiting and waiting[0][0] <= number:
            yield heapq.heappop(waiting)[2]
        if rng.random() < late:
            heapq.heappush(waiting, (number + rng.randrange(1, 12), number, row))
            continue
        yield row
        if rng.random() < doubled:
            yield row
    for _, _, row in sorted(waiting):
        yield row


def draw_outages(
    rng: random.Random, per_day: float, mean_s: float, start_s: float, end_s: float
) -> list[tuple[float, float, bool]]:
    """Draw when a sensor says nothing: (from, to, told), in order, not overlapping."""
    outages: list[tuple[float, float, bool]] = []
    if per_day <= 0:
        return outages
    at_s = start_s
    while True:
        at_s += rng.expovariate(per_day / 86400)
        if at_s >= end_s:
            return outages
        seconds = min(6 * mean_s, max(5.0, rng.expovariate(1 / mean_s)))
        outages.append((at_s, at_s + seconds, rng.random() < 0.6))
        at_s += seconds
