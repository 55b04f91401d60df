"""Sandpiper's story: a week that was, a present with somebody cooking, what comes."""

from datetime import UTC, datetime
import json
from pathlib import Path
import sqlite3

from homeassistant.components.recorder.db_schema import SCHEMA_VERSION
import pytest

from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.kinds import catalogue
from demo.recorder_past import write_past
from demo.sandpiper import APPLIANCES, BOAT, DESCRIPTION, INVERTER_OUTPUT, RELAYS
from demo.sensors import ENTITIES
from demo.story import COMING_DAYS, PAST_DAYS, Story, present_runs, tell

MOMENTS = ("2026-11-25T07:40:00", "2026-06-21T19:10:00", "2027-02-03T02:00:00")


@pytest.fixture(scope="module")
def story() -> Story:
    return tell(datetime.fromisoformat(MOMENTS[0]).replace(tzinfo=UTC).timestamp())


def test_sandpiper_is_a_boat_that_the_integration_accepts() -> None:
    boat = parse_boat(DESCRIPTION)
    assert {appliance.name for appliance in boat.appliances} == {
        appliance.name for appliance in APPLIANCES
    }
    assert catalogue.INDUCTION_HOB in {appliance.kind for appliance in boat.appliances}
    assert DESCRIPTION["inverter"]["efficiency"] == pytest.approx(
        BOAT.inverter.stated_efficiency, abs=0.02
    )


@pytest.mark.parametrize("moment", MOMENTS)
def test_somebody_cooks_at_whatever_time_the_demo_is_started(moment: str) -> None:
    now_s = datetime.fromisoformat(moment).replace(tzinfo=UTC).timestamp()
    truth = tell(now_s).simulation.truth
    running = {r.appliance for r in truth.runs if r.start_s <= now_s < r.end_s}
    assert running == {"Hob", "Water bath"}
    planned = {run.appliance for run in present_runs(now_s)}
    starts = {
        run.appliance
        for run in truth.runs
        if now_s < run.start_s < now_s + 45 * 60 and run.appliance in planned
    }
    assert starts == {"Toaster", "Kettle"}


def test_a_week_of_meals_lies_behind_and_two_days_ahead(story: Story) -> None:
    truth = story.simulation.truth
    assert truth.start_s == pytest.approx(story.now_s - PAST_DAYS * 86_400, abs=10)
    assert truth.end_s == pytest.approx(story.now_s + COMING_DAYS * 86_400, abs=20)
    past = [meal for meal in truth.meals if meal.end_s < story.now_s]
    assert 15 <= len(past) <= 45
    used = {run.appliance for run in truth.runs if run.end_s < story.now_s}
    assert used == {appliance.name for appliance in APPLIANCES}
    assert min(truth.soc) > 15


def test_every_row_of_the_story_belongs_to_an_entity_of_the_demo(story: Story) -> None:
    past, coming = story.split()
    assert {row[0] for row in past} == {entity.entity_id for entity in ENTITIES}
    assert past[-1][2] <= story.now_s < coming[0][2]


def test_a_circuit_carries_its_appliances(story: Story) -> None:
    power_w = story.circuit_power("Galley 1")
    hob_now_w = story.simulation.power["Hob"].mean(story.now_s, story.now_s + 10)
    assert power_w[0] == pytest.approx(hob_now_w, abs=1)
    assert len(power_w) == pytest.approx(COMING_DAYS * 8640, abs=2)


def test_the_past_is_written_as_the_recorder_would_have(tmp_path: Path) -> None:
    database = tmp_path / "recorder.db"
    rows = [
        (INVERTER_OUTPUT, "50", 1000.0),
        (RELAYS["Galley 1"], "on", 1001.5),
        (INVERTER_OUTPUT, "unavailable", 1002.25),
    ]
    assert write_past(database, ENTITIES, rows) == 3
    with sqlite3.connect(database) as connection:
        states = connection.execute(
            "SELECT states_meta.entity_id, state, last_updated_ts, old_state_id, shared_attrs"
            " FROM states JOIN states_meta USING (metadata_id)"
            " JOIN state_attributes USING (attributes_id) ORDER BY state_id"
        ).fetchall()
        version = connection.execute("SELECT max(schema_version) FROM schema_changes")
        assert version.fetchone() == (SCHEMA_VERSION,)
        assert connection.execute("SELECT count(*) FROM recorder_runs").fetchone() == (
            1,
        )
    assert [row[:4] for row in states] == [
        (INVERTER_OUTPUT, "50", 1000.0, None),
        (RELAYS["Galley 1"], "on", 1001.5, None),
        (INVERTER_OUTPUT, "unavailable", 1002.25, 1),
    ]
    assert json.loads(states[0][4])["unit_of_measurement"] == "W"
