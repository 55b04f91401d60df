"""Boat time: local midnights, and hours of the local day."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo


class BoatClock:
    """Turns Unix seconds into the boat's own days and hours."""

    def __init__(self, time_zone: str) -> None:
        """Keep the boat's time zone."""
        self._zone = ZoneInfo(time_zone)

    def midnights(self, start_s: float, end_s: float) -> Iterator[float]:
        """Yield the local midnights of the days that a span touches, Unix seconds."""
        day = datetime.fromtimestamp(start_s, self._zone).date()
        while True:
            midnight = datetime(day.year, day.month, day.day, tzinfo=self._zone)
            at_s = midnight.astimezone(UTC).timestamp()
            if at_s >= end_s:
                return
            yield at_s
            day += timedelta(days=1)

    def hour(self, at_s: float) -> float:
        """Return the hour of the local day, 0 to 24."""
        local = datetime.fromtimestamp(at_s, self._zone)
        return local.hour + local.minute / 60 + local.second / 3600
