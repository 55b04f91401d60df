"""The past, written into the recorder's database before the platform starts.

The platform's own models make the tables, so that they are those of the installed
release; the states then go in as the recorder itself would have written them.
"""

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
import json
from pathlib import Path
from typing import Any

from homeassistant.components.recorder import migration
from homeassistant.components.recorder.db_schema import (
    Base,
    RecorderRuns,
    StateAttributes,
    States,
    StatesMeta,
)
from sqlalchemy import Engine, create_engine, insert
from sqlalchemy.orm import sessionmaker

from .sensors import DemoEntity
from .simulator.meters import Row

BATCH = 20_000


def write_past(
    database: Path, entities: Iterable[DemoEntity], rows: Iterable[Row]
) -> int:
    """Make the database and fill it; return the number of states written.

    Rows of entities that are not among `entities` are an error (KeyError).
    """
    engine = create_engine(f"sqlite:///{database}")
    try:
        Base.metadata.create_all(engine)
        migration.initialize_database(sessionmaker(bind=engine))
        ids = _describe(engine, entities)
        count, first_s, last_s = 0, 0.0, 0.0
        for batch in _batches(rows, ids):
            with engine.begin() as connection:
                connection.execute(insert(States), batch)
            count += len(batch)
            first_s = first_s or batch[0]["last_updated_ts"]
            last_s = batch[-1]["last_updated_ts"]
        _close_run(engine, first_s, last_s)
        return count
    finally:
        engine.dispose()


def _close_run(engine: Engine, first_s: float, last_s: float) -> None:
    """Say that the recorder ran over that time and was stopped in order."""
    start, end = (datetime.fromtimestamp(at_s, UTC) for at_s in (first_s, last_s))
    with engine.begin() as connection:
        connection.execute(
            insert(RecorderRuns).values(
                start=start, end=end, closed_incorrect=False, created=start
            )
        )


def _describe(engine: Engine, entities: Iterable[DemoEntity]) -> dict[str, int]:
    """Write each entity's name and attributes; return their common id by entity."""
    ids: dict[str, int] = {}
    with engine.begin() as connection:
        for number, entity in enumerate(entities, 1):
            shared = json.dumps(entity.recorded_attributes)
            values = StateAttributes.hash_shared_attrs_bytes(shared.encode())
            connection.execute(
                insert(StateAttributes).values(
                    attributes_id=number, hash=values, shared_attrs=shared
                )
            )
            connection.execute(
                insert(StatesMeta).values(
                    metadata_id=number, entity_id=entity.entity_id
                )
            )
            ids[entity.entity_id] = number
    return ids


def _batches(
    rows: Iterable[Row], ids: dict[str, int]
) -> Iterator[list[dict[str, Any]]]:
    """Yield states in batches; each knows the one before it of the same entity."""
    before: dict[str, int] = {}
    batch: list[dict[str, Any]] = []
    for state_id, (entity_id, state, at_s) in enumerate(rows, 1):
        batch.append(
            {
                "state_id": state_id,
                "state": state,
                "last_updated_ts": at_s,
                "old_state_id": before.get(entity_id),
                "attributes_id": ids[entity_id],
                "metadata_id": ids[entity_id],
                "origin_idx": 0,
            }
        )
        before[entity_id] = state_id
        if len(batch) == BATCH:
            yield batch
            batch = []
    if batch:
        yield batch
