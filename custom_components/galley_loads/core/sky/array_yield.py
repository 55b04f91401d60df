"""The array's own yield by where the sun stands, learnt from what it gave.

A yield is power over (nameplate times clear-sky irradiance): about 0.8 for a level array
in full sun. Boom, mast and a tilted panel make it a matter of the sun's azimuth and
elevation, so the sky is cut into cells and each cell remembers the best quarter hour of
each of its recent days. Clouds only ever take away; the upper end of those days is what
the array gives under a clear sky.
"""

from bisect import bisect_right
from collections.abc import Mapping
from typing import Final, TypedDict

from .photovoltaic import typical_yield
from .quantiles import quantile
from .sun import SunPosition

_AZIMUTH_CELL_DEG: Final = 7.5
_AZIMUTH_CELLS: Final = 48
_ELEVATION_EDGES_DEG: Final = (5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0)
_ELEVATION_CELLS: Final = len(_ELEVATION_EDGES_DEG) + 1
CELLS: Final = _AZIMUTH_CELLS * _ELEVATION_CELLS

_DAYS_KEPT: Final = 24
_CLEAR_QUANTILE: Final = 0.85
_PRIOR_DAYS: Final = 3
_NEIGHBOUR_DAYS: Final = 3.0
_LOWEST_YIELD: Final = 0.02


def sky_cell(sun: SunPosition) -> int:
    """Return the number of the sky cell the sun stands in, 0 to CELLS - 1."""
    column = int(sun.azimuth_deg // _AZIMUTH_CELL_DEG) % _AZIMUTH_CELLS
    return column * _ELEVATION_CELLS + bisect_right(
        _ELEVATION_EDGES_DEG, sun.elevation_deg
    )


class ArrayYieldState(TypedDict):
    """What `ArrayYield` saves."""

    best: list[tuple[int, list[tuple[int, float]]]]
    table: list[float] | None


class ArrayYield:
    """Learns the yield of each sky cell."""

    def __init__(self, prior: float | None = None) -> None:
        """Start with one yield everywhere: by default the usual one of a level array.

        A prior of 0 is for an array of unknown nameplate: nothing until it was seen.
        """
        self._prior = typical_yield() if prior is None else prior
        self._best: dict[int, list[tuple[int, float]]] = {}
        self._table: tuple[float, ...] | None = None

    def observe(self, cell: int, day: int, ratio: float) -> None:
        """Take what the array gave of nameplate times clear sky in one quarter hour.

        Args:
            cell: sky cell of the quarter hour's middle.
            day: any count of days that goes up by one each day.
            ratio: power over nameplate times clear-sky irradiance, 0 or more.
        """
        days = self._best.setdefault(cell, [])
        if days and days[-1][0] == day:
            if ratio > days[-1][1]:
                days[-1] = (day, round(ratio, 3))
        else:
            days.append((day, round(ratio, 3)))
            del days[:-_DAYS_KEPT]

    def refresh(self) -> tuple[float, ...]:
        """Work out and return the table: the yield of each sky cell."""
        prior = self._prior
        everything = sorted(value for days in self._best.values() for _, value in days)
        general = prior
        if everything:
            seen = max(len(days) for days in self._best.values())
            found = quantile(everything, _CLEAR_QUANTILE)
            general = (found * seen + prior * _PRIOR_DAYS) / (seen + _PRIOR_DAYS)
        own = {
            cell: (
                quantile(sorted(value for _, value in days), _CLEAR_QUANTILE),
                len(days),
            )
            for cell, days in self._best.items()
        }
        table = []
        for cell in range(CELLS):
            base = self._around(cell, own, general)
            value, days_seen = own.get(cell, (base, 0))
            mixed = (value * days_seen + base * _NEIGHBOUR_DAYS) / (
                days_seen + _NEIGHBOUR_DAYS
            )
            table.append(max(mixed, _LOWEST_YIELD))
        self._table = tuple(table)
        return self._table

    @staticmethod
    def _around(
        cell: int, own: Mapping[int, tuple[float, int]], general: float
    ) -> float:
        """Return what the neighbouring cells suggest, the whole sky where there are none."""
        column, row = divmod(cell, _ELEVATION_CELLS)
        total, weight = general * _NEIGHBOUR_DAYS, _NEIGHBOUR_DAYS
        for to_side, up in ((-1, 0), (1, 0), (0, -1), (0, 1)):
            if not 0 <= row + up < _ELEVATION_CELLS:
                continue
            side = (column + to_side) % _AZIMUTH_CELLS
            value, days = own.get(side * _ELEVATION_CELLS + row + up, (0.0, 0))
            total += value * days
            weight += days
        return total / weight

    @property
    def table(self) -> tuple[float, ...]:
        """The yields as last worked out."""
        return self.refresh() if self._table is None else self._table

    def snapshot(self) -> ArrayYieldState:
        """Return the state, JSON-able."""
        return {
            "best": [(cell, list(days)) for cell, days in self._best.items()],
            "table": None if self._table is None else list(self._table),
        }

    def restore(self, state: ArrayYieldState) -> None:
        """Take a state that `snapshot` gave."""
        self._best = {cell: list(days) for cell, days in state["best"]}
        table = state["table"]
        self._table = None if table is None else tuple(table)
