"""When this crew cooks: what runs at its usual hour is the likelier hypothesis.

A hob at noon is dinner's sister; a thousand watts at three in the afternoon may be
anybody's vacuum cleaner. Starts of settled runs are counted by hour of the day, boat time,
for each appliance and for all that cook together. A new boat cooks at any hour,
though less at night, and no hour is ever ruled out.
"""

from collections.abc import Sequence
from datetime import datetime, tzinfo
from typing import Final

from ...boat.boat import Appliance

HOURS: Final = 24
"""Definition: the hours of a day."""
NEAR: Final = ((-2, 0.1), (-1, 0.2), (0, 0.4), (1, 0.2), (2, 0.1))
"""Judgement, hours and shares: the share of a run that counts for the hours around its
start, as meals are not punctual."""
ASLEEP: Final = frozenset({0, 1, 2, 3, 4})
"""Judgement, hours of the day: when most of a crew sleeps."""
ASLEEP_FACTOR: Final = 0.4
"""Judgement, a factor: how much less is cooked at such hours."""
AWAKE_FACTOR: Final = (HOURS - len(ASLEEP) * ASLEEP_FACTOR) / (HOURS - len(ASLEEP))
"""People cook less while they sleep, watches at sea included: common practice, no source."""
SURE_RUNS: Final = 20.0
"""Judgement, runs: how many of the whole galley the usual day is worth."""
SURE_OWN_RUNS: Final = 8.0
"""Judgement, runs: how many of an appliance the galley's hours are worth to it."""
MEMORY_RUNS: Final = 150.0
"""Judgement, runs: after so many the old ones count half."""
LEAST: Final = 0.4
"""Judgement, a factor: no hour makes a start less likely than this."""
MOST: Final = 2.5
"""Judgement, a factor: no hour makes a start likelier than this."""


type UsualHoursState = dict[str, tuple[float, list[float]]]
"""What `UsualHours` saves: by appliance its runs, and these by hour."""


class UsualHours:
    """Counts starts by hour of the day, boat time."""

    def __init__(self, appliances: Sequence[Appliance], time_zone: tzinfo) -> None:
        """Know nothing of the crew yet."""
        self._names = [a.name for a in appliances]
        self._cooking = [a.kind.is_cooking for a in appliances]
        self._time_zone = time_zone
        self._own = [[0.0] * HOURS for _ in appliances]
        self._runs = [0.0] * len(self._own)
        self._factors: list[tuple[float, ...]] = []
        self._hour_until_s = 0.0
        self._hour = 0

    def add(self, appliance: int, start_s: float, confidence: float) -> None:
        """Take the start of a settled run, counted by how sure it is."""
        hours = self._own[appliance]
        self._runs[appliance] += confidence
        hour = datetime.fromtimestamp(start_s, self._time_zone).hour
        for away, part in NEAR:
            hours[(hour + away) % HOURS] += part * confidence
        if self._runs[appliance] > MEMORY_RUNS:
            share = 0.5
            self._runs[appliance] *= share
            self._own[appliance] = [count * share for count in hours]
        self._factors = []

    def factors(self, at_s: float) -> tuple[float, ...]:
        """Return by how much likelier than at any hour each appliance starts now."""
        if not self._factors:
            self._settle()
        if not self._hour_until_s - 3600.0 <= at_s < self._hour_until_s:
            local = datetime.fromtimestamp(at_s, self._time_zone)
            self._hour = local.hour
            into_s = 60.0 * local.minute + local.second
            self._hour_until_s = float(int(at_s)) - into_s + 3600.0
        return self._factors[self._hour]

    def _settle(self) -> None:
        together = [0.0] * HOURS
        runs = 0.0
        for cooks, own, count in zip(self._cooking, self._own, self._runs, strict=True):
            if cooks:
                runs += count
                together = [a + b for a, b in zip(together, own, strict=True)]
        galley = [
            (
                HOURS * count
                + SURE_RUNS * (ASLEEP_FACTOR if hour in ASLEEP else AWAKE_FACTOR)
            )
            / (runs + SURE_RUNS)
            for hour, count in enumerate(together)
        ]
        self._factors = [
            tuple(
                min(
                    MOST,
                    max(
                        LEAST,
                        (
                            HOURS * own[hour]
                            + SURE_OWN_RUNS * (galley[hour] if cooks else 1.0)
                        )
                        / (count + SURE_OWN_RUNS),
                    ),
                )
                for cooks, own, count in zip(
                    self._cooking, self._own, self._runs, strict=True
                )
            )
            for hour in range(HOURS)
        ]

    def snapshot(self) -> UsualHoursState:
        """Return the whole state, JSON-able."""
        return {
            name: (count, list(own))
            for name, count, own in zip(self._names, self._runs, self._own, strict=True)
        }

    def restore(self, state: UsualHoursState) -> None:
        """Take over what `snapshot` gave, of the appliances that are still aboard."""
        for number, name in enumerate(self._names):
            if name in state:
                self._runs[number], own = state[name]
                self._own[number] = list(own)
        self._factors = []
