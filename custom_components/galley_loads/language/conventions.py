"""How a language writes numbers, lengths of time, clock times and lists.

A catalogue holds its conventions beside its sentences, under `conventions`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any, Final

_MOST_SAID: Final = 0.97
"""A few dozen possible futures make nothing certain."""


@dataclass(frozen=True, slots=True)
class Conventions:
    """The conventions of one language.

    The days of the week begin on Monday. The other texts have places: `date` {weekday},
    {day}, {month}, {year} and {time}, `tomorrow` {time}, `on_day` {time} and {day}, `percent` {number}, `over` and `under` {share}, `minutes` and `hours`
    and `days` {number}, `hours_minutes` {hours} and {minutes}, `and` {first} and {last}.
    """

    decimal: str
    group: str
    weekdays: Sequence[str]
    weekdays_short: Sequence[str]
    months_short: Sequence[str]
    texts: Mapping[str, str]

    @classmethod
    def from_catalogue(cls, entries: Mapping[str, Any]) -> Conventions:
        """Return what a catalogue's part about them says."""
        texts = {name: text for name, text in entries.items() if isinstance(text, str)}
        return cls(
            texts.pop("decimal"),
            texts.pop("group"),
            entries["weekdays"],
            entries["weekdays_short"],
            entries["months_short"],
            texts,
        )

    def fixed(self, value: float, digits: int) -> str:
        """Return a number with a fixed count of decimals, thousands set apart."""
        return self._local(f"{value:,.{digits}f}")

    def number(self, value: float) -> str:
        """Return a number as one would type it."""
        return f"{value:.7g}".replace(".", self.decimal)

    def _local(self, text: str) -> str:
        whole, _, decimals = text.partition(".")
        whole = whole.replace(",", self.group)
        return f"{whole}{self.decimal}{decimals}" if decimals else whole

    def whole(self, value: float) -> str:
        """Return a number rounded to a whole one."""
        return self.fixed(round(value), 0)

    def charge(self, soc: float) -> str:
        """Return a state of charge, given in percent, as whole percent."""
        return self._text("percent", number=self.whole(soc))

    def percent(self, share: float) -> str:
        """Return a share from 0 to 1 as whole percent."""
        return self.charge(100.0 * share)

    def chance(self, share: float) -> str:
        """Return a chance from 0 to 1, none of them as certain."""
        if share > _MOST_SAID:
            return self._text("over", share=self.percent(_MOST_SAID))
        if share < 1.0 - _MOST_SAID:
            return self._text("under", share=self.percent(1.0 - _MOST_SAID))
        return self.percent(share)

    def ampere_hours(self, charge_ah: float) -> str:
        """Return a charge, with a decimal where it is small."""
        digits = 1 if charge_ah < 9.95 else 0
        return f"{self.fixed(charge_ah, digits)} Ah"

    def energy(self, energy_wh: float) -> str:
        """Return an energy in Wh or kWh."""
        if energy_wh < 999.5:
            return f"{self.whole(energy_wh)} Wh"
        return f"{self.fixed(energy_wh / 1000.0, 2)} kWh"

    def duration(self, seconds: float) -> str:
        """Return a length of time, e.g. "40 min" or "3 h 20 min"."""
        minutes = max(round(seconds / 60.0), 0)
        if minutes < 60:
            return self._text("minutes", number=str(minutes))
        hours, rest = divmod(minutes, 60)
        if hours >= 48:
            return self._text("days", number=str(round(hours / 24)))
        if rest:
            return self._text("hours_minutes", hours=str(hours), minutes=str(rest))
        return self._text("hours", number=str(hours))

    def age(self, seconds: float) -> str:
        """Return how long something is past, in minutes or, from two hours on, in hours."""
        minutes = max(seconds, 0.0) / 60.0
        if minutes < 120:
            return self._text("minutes", number=self.whole(minutes))
        return self._text("hours", number=self.whole(minutes / 60.0))

    def clock(self, at_s: float, now_s: float, zone: tzinfo) -> str:
        """Return a time on the boat's clock; the day is named when it is another one."""
        moment, present = _local(at_s, zone), _local(now_s, zone)
        time = f"{moment:%H:%M}"
        days = (moment.date() - present.date()).days
        if days == 0:
            return time
        if days == 1:
            return self._text("tomorrow", time=time)
        return self._text("on_day", time=time, day=self.weekdays[moment.weekday()])

    def date(self, at_s: float, zone: tzinfo) -> str:
        """Return a day with its year, and the time on the boat's clock."""
        moment = _local(at_s, zone)
        return self._text(
            "date",
            weekday=self.weekdays_short[moment.weekday()],
            day=f"{moment:%d}",
            month=self.months_short[moment.month - 1],
            year=str(moment.year),
            time=f"{moment:%H:%M}",
        )

    def time(self, at_s: float, zone: tzinfo) -> str:
        """Return a time on the boat's clock."""
        return f"{_local(at_s, zone):%H:%M}"

    def day_time(self, hour: float) -> str:
        """Return a time of day, given in hours, to the quarter."""
        quarters = round(hour * 4.0)
        return f"{quarters // 4 % 24:02d}:{quarters % 4 * 15:02d}"

    def both(self, parts: Sequence[str]) -> str:
        """Return a list of what holds together: "a, b and c"."""
        if len(parts) < 2:
            return "".join(parts)
        return self._text("and", first=", ".join(parts[:-1]), last=parts[-1])

    def _text(self, name: str, **places: str) -> str:
        return self.texts[name].format(**places)


def _local(at_s: float, zone: tzinfo) -> datetime:
    # Not fromtimestamp: a time that a wrong clock gave may be before 1970.
    return (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=at_s)).astimezone(zone)
