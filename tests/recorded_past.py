"""A recorded past for tests: what a boat's sensors said before it was set up."""

from homeassistant.components.recorder.db_schema import States, StatesMeta
from homeassistant.components.recorder.util import session_scope
from homeassistant.core import HomeAssistant
from homeassistant.helpers.recorder import get_instance
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_wait_recording_done,
)
from sqlalchemy import insert, select

from custom_components.galley_loads.core.metering.reading import Reading

from .at_home import UNITS


async def record(hass: HomeAssistant, readings: list[Reading]) -> None:
    """Let the recorder have seen these readings.

    The first of each sensor goes the way of a live state, which makes what the database
    needs to know of the sensor; the others are written straight behind it.
    """
    first: dict[str, Reading] = {}
    for reading in readings:
        first.setdefault(reading.entity_id, reading)
    for reading in first.values():
        unit = UNITS.get(reading.entity_id)
        hass.states.async_set(
            reading.entity_id,
            reading.state,
            {"unit_of_measurement": unit} if unit else {},
            timestamp=reading.at_s,
        )
    await async_wait_recording_done(hass)
    others = [reading for reading in readings if first[reading.entity_id] != reading]
    await get_instance(hass).async_add_executor_job(_write, hass, others)


def _write(hass: HomeAssistant, readings: list[Reading]) -> None:
    with session_scope(hass=hass) as session:
        ids = {
            entity_id: (metadata_id, attributes_id)
            for entity_id, metadata_id, attributes_id in session.execute(
                select(StatesMeta.entity_id, States.metadata_id, States.attributes_id)
                .join(States, States.metadata_id == StatesMeta.metadata_id)
                .distinct()
            )
        }
        rows = []
        for reading in readings:
            metadata_id, attributes_id = ids[reading.entity_id]
            rows.append(
                {
                    "state": reading.state,
                    "last_updated_ts": reading.at_s,
                    "metadata_id": metadata_id,
                    "attributes_id": attributes_id,
                    "origin_idx": 0,
                }
            )
        session.execute(insert(States), rows)
