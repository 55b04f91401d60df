"""How far the recorder's past was worked through, one file per boat.

The file outlives restarts, so that a long backfill goes on where it was interrupted, and
keeps from when on each counter counts by itself, so that the past is never counted twice.
"""

from typing import Any, TypedDict

from ..core.replay.past_replay import PastReplayState
from ..state.boat_store import BoatStore


class StoredRun(TypedDict):
    """A backfill that is under way: the boat it is for, and what it has so far."""

    boat: dict[str, Any]
    past: PastReplayState


class StoredHistory(TypedDict):
    """The content of the file.

    `first_start_s` is when the boat was set up. `live_from_s` says for each counter
    since when it is there, `counts_from_s` from when on it counts; what lies before is the
    past, and belongs to the statistics only. `boat` is the boat as which the past was read
    last, None if it never was. `run` is a backfill that is not finished.
    """

    first_start_s: float
    live_from_s: dict[str, float]
    counts_from_s: dict[str, float]
    boat: dict[str, Any] | None
    run: StoredRun | None


class HistoryStore(BoatStore[StoredHistory]):
    """How far one boat's past was read."""

    file = "history"
    large = True
