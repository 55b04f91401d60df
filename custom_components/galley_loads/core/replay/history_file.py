"""Histories: a file of past states becomes a stream of readings, in order of time.

A file has the columns `entity_id,state,last_changed` in any order, others are left aside;
times are ISO 8601 with `Z` or an offset; blank lines, and blanks around a value, count for
nothing. Memory stays bounded whatever its length: a file
in order of time is streamed, any other is sorted through a temporary SQLite database that
lives on disk and vanishes by itself. Sorting is stable and drops nothing.
"""

from collections.abc import Callable, Collection, Iterator
import csv
from datetime import datetime
import gzip
import io
from pathlib import Path
import sqlite3
from stat import S_ISDIR, S_ISREG
from typing import BinaryIO, Final
import zlib

from ..metering.reading import Reading
from ..phrase import PhrasedError, phrase

COLUMNS: Final = ("entity_id", "state", "last_changed")

type Progress = Callable[[int, int], None]
"""Called with what is done and what there is to do, in bytes of the file."""

_GZIP_MAGIC: Final = b"\x1f\x8b"
_ROWS_PER_REPORT: Final = 2000
_ROWS_PER_INSERT: Final = 5000
_NAMED: Final = 3

FIRST_YEAR: Final = 1970
LAST_YEAR: Final = 2199
"""The years that a time may lie in; beyond them a clock was wrong."""


class HistoryError(PhrasedError):
    """A history that cannot be read; its phrase says where and why."""


def read_history(
    path: Path, entity_ids: Collection[str], progress: Progress | None = None
) -> Iterator[Reading]:
    """Yield the readings of some entities in order of time.

    The file is read twice: once to see whether it is in order, once for the readings.

    Args:
        path: a `.csv` or `.csv.gz` file.
        entity_ids: the entities that count; rows of others are passed over.
        progress: told how far the reading is, in bytes; both passes count.

    Raises:
        HistoryError: the file cannot be read twice, is empty, has the wrong columns, holds a
            time that cannot be read, or has no row of any of the entities.
        OSError: the file cannot be opened.
    """
    wanted = frozenset(entity_ids)
    status = path.stat()
    if not (S_ISREG(status.st_mode) or S_ISDIR(status.st_mode)):
        raise HistoryError(phrase("history.not_plain"))
    size = status.st_size
    report = _RowReport(progress, 2 * size)
    ordered, found = _look_through(path, wanted, report)
    if not found:
        some, more = tuple(sorted(wanted)[:_NAMED]), len(wanted) - _NAMED
        raise HistoryError(
            phrase("history.no_row_of_many", entity_ids=some, more=more)
            if more > 0
            else phrase("history.no_row", entity_ids=some)
        )
    report.done = size
    readings = _rows(path, wanted, report)
    yield from readings if ordered else _sorted(readings)
    report.finish()


class _RowReport:
    """Turns file positions into calls of the progress function."""

    def __init__(self, progress: Progress | None, total: int) -> None:
        self._progress = progress
        self._total = total
        self.done = 0

    def at(self, position: int) -> None:
        if self._progress is not None:
            self._progress(min(self._total, self.done + position), self._total)

    def finish(self) -> None:
        if self._progress is not None:
            self._progress(self._total, self._total)


def _look_through(
    path: Path, wanted: frozenset[str], report: _RowReport
) -> tuple[bool, bool]:
    """Return whether the rows are in order of time, and whether there is any."""
    last_s: float | None = None
    for reading in _rows(path, wanted, report):
        if last_s is not None and reading.at_s < last_s:
            return False, True
        last_s = reading.at_s
    return True, last_s is not None


def _rows(path: Path, wanted: frozenset[str], report: _RowReport) -> Iterator[Reading]:
    """Yield the readings as they stand in the file."""
    with path.open("rb") as raw:
        rows = csv.reader(_text(path, raw), skipinitialspace=True)
        try:
            yield from _parsed(rows, wanted, raw, report)
        except UnicodeDecodeError:
            raise HistoryError(
                phrase("history.not_utf8", line=rows.line_num + 1)
            ) from None
        except (gzip.BadGzipFile, zlib.error, EOFError) as error:
            raise HistoryError(
                phrase("history.cut_short", line=rows.line_num, error=str(error))
            ) from None
        except csv.Error as error:
            raise HistoryError(
                phrase("history.not_csv", line=rows.line_num, error=str(error))
            ) from None


def _text(path: Path, raw: BinaryIO) -> io.TextIOWrapper:
    magic = raw.read(2)
    raw.seek(0)
    if not magic:
        raise HistoryError(phrase("history.empty", columns=",".join(COLUMNS)))
    if magic == _GZIP_MAGIC:
        return io.TextIOWrapper(
            gzip.GzipFile(fileobj=raw), encoding="utf-8-sig", newline=""
        )
    if path.suffix == ".gz":
        raise HistoryError(phrase("history.not_gzip"))
    return io.TextIOWrapper(raw, encoding="utf-8-sig", newline="")


def _parsed(
    rows: Iterator[list[str]],
    wanted: frozenset[str],
    raw: BinaryIO,
    report: _RowReport,
) -> Iterator[Reading]:
    numbered = enumerate(rows, 1)
    header = next((row for _, row in numbered if not _is_blank(row)), None)
    if header is None:
        raise HistoryError(phrase("history.empty", columns=",".join(COLUMNS)))
    names = [name.strip() for name in header]
    for column in COLUMNS:
        if column not in names:
            raise HistoryError(
                phrase(
                    "history.no_column",
                    column=column,
                    found=repr(",".join(names)[:80]),
                    columns=",".join(COLUMNS),
                )
            )
    entity_at, state_at, time_at = (names.index(column) for column in COLUMNS)
    width = max(entity_at, state_at, time_at) + 1
    until_report = _ROWS_PER_REPORT
    for number, row in numbered:
        until_report -= 1
        if not until_report:
            until_report = _ROWS_PER_REPORT
            report.at(raw.tell())
        if len(row) < width:
            if _is_blank(row):
                continue
            raise HistoryError(
                phrase(
                    "history.too_few",
                    line=number,
                    count=len(row),
                    columns=",".join(names),
                )
            )
        entity_id = row[entity_at].strip()
        if entity_id not in wanted:
            continue
        yield Reading(
            entity_id, row[state_at].strip(), _unix_time(row[time_at], number)
        )


def _is_blank(row: list[str]) -> bool:
    return not any(map(str.strip, row))


def _unix_time(text: str, number: int) -> float:
    try:
        at = datetime.fromisoformat(text.strip().upper())  # A small z is a Z too.
    except ValueError:
        raise HistoryError(
            phrase("history.no_time", line=number, text=repr(text[:40]))
        ) from None
    if at.tzinfo is None:
        raise HistoryError(phrase("history.no_zone", line=number, text=repr(text[:40])))
    if not FIRST_YEAR <= at.year <= LAST_YEAR:
        raise HistoryError(
            phrase(
                "history.wrong_year",
                line=number,
                text=repr(text[:40]),
                first_year=FIRST_YEAR,
                last_year=LAST_YEAR,
            )
        )
    return at.timestamp()


def _sorted(readings: Iterator[Reading]) -> Iterator[Reading]:
    """Yield the readings in order of time; those of one moment stay as they stood."""
    # A database without a name lies in a file of its own that is gone when it is closed.
    store = sqlite3.connect("")
    try:
        store.execute("PRAGMA journal_mode = OFF")
        store.execute("PRAGMA synchronous = OFF")
        store.execute("CREATE TABLE reading (entity_id TEXT, state TEXT, at_s REAL)")
        batch: list[tuple[str, str, float]] = []
        for reading in readings:
            batch.append((reading.entity_id, reading.state, reading.at_s))
            if len(batch) == _ROWS_PER_INSERT:
                store.executemany("INSERT INTO reading VALUES (?, ?, ?)", batch)
                batch.clear()
        store.executemany("INSERT INTO reading VALUES (?, ?, ?)", batch)
        for row in store.execute(
            "SELECT entity_id, state, at_s FROM reading ORDER BY at_s, rowid"
        ):
            yield Reading(*row)
    finally:
        store.close()
