"""What outlives a restart: the engine's state and the counters, two files per boat."""

from typing import Any, TypedDict

from .boat_store import BoatStore


class StoredEngine(TypedDict):
    """The content of the file.

    `boat` is the boat in the file's form at the time of writing; the engine's state
    belongs to it. `names` tells which appliance had which subentry id then.
    """

    boat: dict[str, Any]
    names: dict[str, str]
    engine: dict[str, Any]
    counters: dict[str, float]


class EngineStore(BoatStore[StoredEngine]):
    """The engine's state, and the counters."""

    large = True


class StoredJournal(TypedDict):
    """What came in since the state was stored: rows of entity id, state and time.

    `counters` are those that were shown when it was written.
    """

    readings: list[list[Any]]
    counters: dict[str, float]


class JournalStore(BoatStore[StoredJournal]):
    """The journal since the state was written."""

    file = "journal"
