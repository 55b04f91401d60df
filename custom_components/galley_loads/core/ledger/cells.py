"""The recent past, kept as energies until it is settled.

Inference settles half an hour late; until then the measured load has to be remembered
finely enough to be cut at any moment. A *cell* is a short stretch (seconds) over which
nothing changed much, with what flowed in it. Cutting a cell splits its energies by time,
so whatever the cuts, the sum stays what was measured.
"""

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Final, TypedDict

from ..metering.load_sample import LoadSample
from ..stateful import Row, from_row, row

LONGEST_CELL_S: Final = 15.0
SAME_LOAD_W: Final = 10.0
SAME_LOAD_SHARE: Final = 0.02


@dataclass(slots=True)
class Cell:
    """What was measured between two moments.

    Energies are watt-seconds, charges ampere-seconds. `load_ws` is None where the load was
    not measured; the `..._s` fields say for how many seconds a source was known.
    """

    start_s: float
    end_s: float
    load_ws: float | None
    solar_ws: float = 0.0
    solar_s: float = 0.0
    other_ws: float = 0.0
    other_s: float = 0.0
    battery_ws: float = 0.0
    discharge_ws: float = 0.0
    battery_s: float = 0.0
    net_as: float = 0.0
    net_s: float = 0.0
    voltage_vs: float = 0.0
    voltage_s: float = 0.0
    soc: float | None = None
    open_circuits: tuple[str, ...] = ()
    first_load_w: float = 0.0

    @property
    def duration_s(self) -> float:
        """How long the cell lasts."""
        return self.end_s - self.start_s

    def part(self, start_s: float, end_s: float) -> Cell:
        """Return the part of this cell between two moments, energies split by time."""
        start_s, end_s = max(start_s, self.start_s), min(end_s, self.end_s)
        if start_s <= self.start_s and end_s >= self.end_s:
            return self
        share = (end_s - start_s) / self.duration_s
        return Cell(
            start_s,
            end_s,
            None if self.load_ws is None else self.load_ws * share,
            self.solar_ws * share,
            self.solar_s * share,
            self.other_ws * share,
            self.other_s * share,
            self.battery_ws * share,
            self.discharge_ws * share,
            self.battery_s * share,
            self.net_as * share,
            self.net_s * share,
            self.voltage_vs * share,
            self.voltage_s * share,
            self.soc,
            self.open_circuits,
            self.first_load_w,
        )


class CellsState(TypedDict):
    """The cells and the newest sample, as rows."""

    cells: list[Row]
    last: Row | None


class Cells:
    """The cells from the last settled moment to now."""

    def __init__(self) -> None:
        """Start with nothing remembered."""
        self._cells: deque[Cell] = deque()
        self._last: LoadSample | None = None

    @property
    def last(self) -> LoadSample | None:
        """The newest sample; it holds until the next one."""
        return self._last

    def add(self, sample: LoadSample) -> None:
        """Close the time up to `sample` with what held until then."""
        self.add_all((sample,))

    def add_all(self, samples: Sequence[LoadSample]) -> None:
        """Add samples in the order of their times; how many at a time matters not.

        Every reading comes through here, and half a dozen of them fill a cell: hence one
        loop over all, with the sums of the open cell in local names.
        """
        if not samples:
            return
        held, self._last = self._last or samples[0], samples[-1]
        cells = self._cells
        is_open = bool(cells)
        (
            start_s, until_s, known_ws, solar_ws, solar_s, other_ws, other_s,
            battery_ws, discharge_ws, battery_s, net_as, net_s, voltage_vs, voltage_s,
            soc, open_circuits, first_w,
        ) = _fields(cells.pop() if is_open else Cell(0.0, 0.0, None))  # fmt: skip
        load_ws, measured, dead = (
            known_ws or 0.0,
            known_ws is not None,
            len(open_circuits),
        )
        same_w = max(SAME_LOAD_W, SAME_LOAD_SHARE * first_w)
        at_s, load_w, sun_w, other_w, bank_w, bank_a, volts, gauge, _, opened, _ = held
        for sample in samples:
            end_s = sample.at_s
            if end_s > at_s:
                span_s = end_s - at_s
                if load_w is not None and load_w < 0.0:
                    load_w = 0.0
                belongs = (
                    is_open
                    # The first stretch belongs to its cell however long it lasts.
                    and (end_s - start_s <= LONGEST_CELL_S or at_s <= start_s)
                    and len(opened) == dead
                    and (load_w is not None) is measured
                    and (load_w is None or abs(load_w - first_w) <= same_w)
                )
                if not belongs:
                    if is_open:
                        cells.append(Cell(
                            start_s, until_s, load_ws if measured else None, solar_ws,
                            solar_s, other_ws, other_s, battery_ws, discharge_ws,
                            battery_s, net_as, net_s, voltage_vs, voltage_s, soc,
                            open_circuits, first_w,
                        ))  # fmt: skip
                    is_open = True
                    start_s, measured, first_w = at_s, load_w is not None, load_w or 0.0
                    same_w = max(SAME_LOAD_W, SAME_LOAD_SHARE * first_w)
                    open_circuits, dead = tuple(sorted(opened)), len(opened)
                    load_ws = solar_ws = solar_s = other_ws = other_s = 0.0
                    battery_ws = discharge_ws = battery_s = net_as = net_s = 0.0
                    voltage_vs, voltage_s, soc = 0.0, 0.0, None
                until_s = end_s
                if load_w is not None:
                    load_ws += load_w * span_s
                if sun_w is not None:
                    solar_s += span_s
                    if sun_w > 0.0:
                        solar_ws += sun_w * span_s
                if other_w is not None:
                    other_s += span_s
                    if other_w > 0.0:
                        other_ws += other_w * span_s
                if volts is not None and volts > 0.0:
                    voltage_s += span_s
                    voltage_vs += volts * span_s
                if bank_w is not None:
                    battery_s += span_s
                    battery_ws += bank_w * span_s
                    if bank_w < 0.0:
                        discharge_ws -= bank_w * span_s
                    if bank_a is None and volts:
                        bank_a = bank_w / volts
                if bank_a is not None:
                    net_s += span_s
                    net_as -= bank_a * span_s
                if gauge is not None:
                    soc = gauge
            at_s, load_w, sun_w, other_w, bank_w, bank_a, volts, gauge, _, opened, _ = (
                sample
            )
        if is_open:
            cells.append(Cell(
                start_s, until_s, load_ws if measured else None, solar_ws, solar_s,
                other_ws, other_s, battery_ws, discharge_ws, battery_s, net_as, net_s,
                voltage_vs, voltage_s, soc, open_circuits, first_w,
            ))  # fmt: skip

    def between(self, start_s: float, end_s: float) -> Iterator[Cell]:
        """Yield the cells from `start_s` to `end_s`, the outer ones cut to fit."""
        for cell in self._cells:
            if cell.end_s <= start_s:
                continue
            if cell.start_s >= end_s:
                return
            yield cell.part(start_s, end_s)

    def take_until(self, end_s: float) -> list[Cell]:
        """Return and forget the cells up to `end_s`."""
        taken: list[Cell] = []
        while self._cells and self._cells[0].start_s < end_s:
            cell = self._cells.popleft()
            if cell.end_s > end_s:
                taken.append(cell.part(cell.start_s, end_s))
                self._cells.appendleft(cell.part(end_s, cell.end_s))
                break
            taken.append(cell)
        return taken

    def snapshot(self) -> CellsState:
        """Return the state as plain data."""
        last = self._last
        return {
            "cells": [row(cell) for cell in self._cells],
            "last": None if last is None else row(last),
        }

    def restore(self, state: CellsState) -> None:
        """Take a state that `snapshot` gave."""
        self._cells = deque(from_row(Cell, one) for one in state["cells"])
        last = state["last"]
        self._last = None if last is None else from_row(LoadSample, last)


_fields: Final = attrgetter(*Cell.__slots__)
