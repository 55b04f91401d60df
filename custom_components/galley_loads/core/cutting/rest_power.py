"""What the boat draws at rest, learnt apart from inference.

Whether a circuit is idle is judged twice: by inference, and by the bare power. The second
judge must not lean on the first one's picture of the background, so it keeps its own: the
loads of minutes in which nothing ran, in a histogram that fades over days.
"""

from typing import Final

_BIN_W: Final = 10.0
_BINS: Final = 300
_NEEDED_MINUTES: Final = 30.0
_FADE_MINUTES: Final = 2 * 1440.0
_LOW: Final = 0.2
_UPPER: Final = 0.8
_SPREAD_W: Final = 300.0
"""Rest lies within this of its lower end: fridge, lamps, pumps, instruments."""
_NEAR_W: Final = 120.0
_FAR_WEIGHT: Final = 1 / 20
"""Loads well above rest count little: an appliance that inference overlooks for an hour
must not become the new rest, a new permanent load must after some days."""


type RestPowerState = list[tuple[int, float]]
"""What `RestPower` saves: minutes by bin, without those that are empty."""


class RestPower:
    """The upper end of what one measure of the load shows while nothing runs."""

    def __init__(self) -> None:
        """Know nothing yet."""
        self._minutes = [0.0] * _BINS
        self._total = 0.0

    def observe(self, load_w: float, seconds: float) -> None:
        """Take a load that held for some seconds while nothing ran."""
        bin_ = min(max(int(load_w / _BIN_W), 0), _BINS - 1)
        minutes = seconds / 60.0
        if load_w > self._far_above_w():
            minutes *= _FAR_WEIGHT
        self._minutes[bin_] += minutes
        self._total += minutes
        if self._total > _FADE_MINUTES:
            self._minutes = [held / 2.0 for held in self._minutes]
            self._total /= 2.0

    def _far_above_w(self) -> float:
        """Return the load above which nothing is likely to be rest."""
        level_w = self.level_w
        if level_w is not None:
            return level_w + _NEAR_W
        if self._total <= 0.0:
            return _BINS * _BIN_W
        lowest = next(i for i, minutes in enumerate(self._minutes) if minutes > 0)
        return (lowest + 1) * _BIN_W + _SPREAD_W

    @property
    def level_w(self) -> float | None:
        """The load that rest mostly stays below; None before half an hour of rest.

        Of what lies within reach of the lower end, four fifths of the time.
        """
        if self._total < _NEEDED_MINUTES:
            return None
        low = self._quantile_bin(_LOW, self._total, _BINS)
        end = min(low + int(_SPREAD_W / _BIN_W) + 1, _BINS)
        at_rest = sum(self._minutes[:end])
        return (self._quantile_bin(_UPPER, at_rest, end) + 1) * _BIN_W

    def _quantile_bin(self, share: float, total: float, end: int) -> int:
        below = 0.0
        for index in range(end):
            below += self._minutes[index]
            if below >= share * total:
                return index
        return end - 1

    def snapshot(self) -> RestPowerState:
        """Return the state as JSON-able data, empty bins left out."""
        return [
            (index, round(minutes, 3))
            for index, minutes in enumerate(self._minutes)
            if minutes > 0
        ]

    def restore(self, state: RestPowerState) -> None:
        """Take up a state from `snapshot`."""
        self._minutes = [0.0] * _BINS
        for index, minutes in state:
            self._minutes[index] = minutes
        self._total = sum(self._minutes)
