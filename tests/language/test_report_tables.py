"""A report as tables, in a terminal."""

from datetime import datetime

import pytest

from custom_components.galley_loads.core.replay.replay import replay
from custom_components.galley_loads.language.report_tables import duration, report_text
from tests.core.plain_boat import at_rest, plain_boat
from tests.core.simulated_day import report


def test_the_tables_tell_meals_in_boat_time_and_where_the_load_went() -> None:
    text = report_text(report())
    lines = text.splitlines()
    first = report().meals[0]
    local = datetime.fromtimestamp(first.start_s, report().boat.time_zone)

    (header,) = [line for line in lines if line.startswith("Meal")]
    assert header.split() == (
        [
            "Meal",
            "Lasted",
            "Label",
            "Appliances",
            "Wh",
            "Bank",
            "Ah",
            "Drawn",
            "Ah",
            "Net",
            "Ah",
            "Sun",
            "Charge",
        ]
    )
    meal = lines[lines.index(header) + 1]
    assert meal.startswith(local.strftime("%a %d %b %H:%M"))
    assert first.label in meal and f"{first.energy_wh:.0f}" in meal
    assert len(meal) <= 130
    for word in ("Hob", "Kettle", "Water heater", "background", "unassigned", "load"):
        assert word in text
    assert "Not measured:" in text
    assert all(line == line.rstrip() for line in lines)


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0:00 min"),
        (64, "1:04 min"),
        (599, "9:59 min"),
        (1500, "25 min"),
        (3570, "1:00 h"),
        (9000, "2:30 h"),
    ],
)
def test_a_duration_is_told_as_a_cook_would(seconds: float, text: str) -> None:
    assert duration(seconds) == text


def test_a_boat_without_appliances_still_tells_where_its_load_went() -> None:
    text = report_text(replay(plain_boat(), at_rest(99)))
    assert "No meals." in text and "Appliance " not in text
    rows = {line.split()[0]: line.split()[1:] for line in text.splitlines() if line}
    assert rows["background"] == rows["load"] == ["12", "100", "%"]
    assert rows["runs"] == rows["unassigned"] == ["0", "0", "%"]
