"""Everything at the inverter at once: what each load truly draws, and what it adds up to.

Resistive loads draw a little less while the inverter is busy, since its voltage gives.
One sweep over all changes keeps the sums exact.
"""

from array import array
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from .pieces import Pieces
from .steps import Steps

GRID_S: Final = 10.0

VOLTAGE_DROP: Final = 0.012
"""How much an inverter's voltage gives from no load to its limit (common practice, no
source)."""


@dataclass(slots=True)
class Channel:
    """One load with its nominal changes; the sweep fills in its true energy.

    `meter` and `grid` are where its true power is written down as well.
    """

    changes: list[tuple[float, float]]
    resistive: bool = False
    meter: list[tuple[float, float]] | None = None
    grid: array[float] | None = None
    energy_j: float = 0.0
    power_w: float = field(default=0.0, repr=False)


def run_channel(start_s: float, pieces: Pieces, resistive: bool) -> Channel:
    """Return a run as a channel."""
    changes: list[tuple[float, float]] = []
    at_s = start_s
    for seconds, watts in pieces:
        changes.append((at_s, watts))
        at_s += seconds
    changes.append((at_s, 0.0))
    return Channel(changes, resistive)


def _into_grid(
    grid: array[float], start_s: float, from_s: float, to_s: float, w: float
) -> None:
    """Add a constant power to the grid's mean W per cell."""
    first = int((from_s - start_s) / GRID_S)
    last = int((to_s - start_s) / GRID_S)
    if first == last:
        grid[first] += w * (to_s - from_s) / GRID_S
        return
    grid[first] += w * (start_s + (first + 1) * GRID_S - from_s) / GRID_S
    for cell in range(first + 1, last):
        grid[cell] += w
    if last < len(grid):
        grid[last] += w * (to_s - (start_s + last * GRID_S)) / GRID_S


def sweep(
    channels: Sequence[Channel],
    start_s: float,
    end_s: float,
    limit_w: float,
    drop: float,
) -> Steps:
    """Return the total over time; each channel's `energy_j`, meter and grid are filled."""
    events = sorted(
        (at_s, number, watts)
        for number, channel in enumerate(channels)
        for at_s, watts in channel.changes
    )
    total = Steps(start_s)
    active: dict[int, float] = {}
    drawn: dict[int, float] = {}
    before_s = start_s
    position = 0
    while position < len(events) and events[position][0] < end_s:
        at_s = events[position][0]
        _spend(channels, drawn, start_s, before_s, at_s)
        while position < len(events) and events[position][0] == at_s:
            _, number, watts = events[position]
            if watts > 0:
                active[number] = watts
            else:
                active.pop(number, None)
            position += 1
        factor = (1 - drop * sum(active.values()) / limit_w) ** 2
        now = {
            number: watts * factor if channels[number].resistive else watts
            for number, watts in active.items()
        }
        for number in drawn.keys() | now.keys():
            meter = channels[number].meter
            if meter is not None and drawn.get(number, 0.0) != now.get(number, 0.0):
                meter.append((at_s, now.get(number, 0.0) - drawn.get(number, 0.0)))
        drawn = now
        total.change(at_s, sum(drawn.values()))
        before_s = at_s
    _spend(channels, drawn, start_s, before_s, end_s)
    return total


def _spend(
    channels: Sequence[Channel],
    drawn: dict[int, float],
    start_s: float,
    from_s: float,
    to_s: float,
) -> None:
    if to_s <= from_s:
        return
    for number, watts in drawn.items():
        channel = channels[number]
        channel.energy_j += watts * (to_s - from_s)
        if channel.grid is not None:
            _into_grid(channel.grid, start_s, from_s, to_s, watts)
