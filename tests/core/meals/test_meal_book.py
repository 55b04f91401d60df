"""The meal book: filing, finding, summing, editing and handing out meals."""

import csv
from dataclasses import replace
from datetime import UTC, datetime, timedelta
import io
import json
from zoneinfo import ZoneInfo

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.meals.filing_rules import (
    file_history,
    file_live,
)
from custom_components.galley_loads.core.meals.meal_builder import HOT_DRINK
from custom_components.galley_loads.core.meals.meal_edits import (
    MealEditError,
    join,
    split,
)
from custom_components.galley_loads.core.meals.meal_export_formats import (
    CsvExport,
    JsonExport,
    meal_details,
    meal_row,
)
from custom_components.galley_loads.core.meals.meal_query import (
    Grouping,
    MealFilter,
    MealTally,
    select,
)
from custom_components.galley_loads.core.meals.meal_record import (
    MealRecord,
    Origin,
    record_from_mapping,
    record_of,
    record_to_mapping,
)
from custom_components.galley_loads.language.meal_summary import summary_lines
from custom_components.galley_loads.language.speech import english

from .meals_made import made_meal, made_run

AZORES = ZoneInfo("Atlantic/Azores")
HOUR = 3600.0
DAWN = datetime(2026, 5, 12, 6, tzinfo=UTC).timestamp()


def _record(
    start_s: float = DAWN, label: str = "dinner", wh: float = 100
) -> MealRecord:
    return record_of(
        made_meal(made_run("Hob", start_s, wh=wh), label=label), Origin.LIVE
    )


# Filing


def test_a_meal_that_is_told_again_takes_the_place_of_its_first_telling() -> None:
    first = _record()
    again = made_meal(made_run("Hob", DAWN + 5, 21))
    change = file_live(again, [first], [])
    assert change.drop == (first,)
    assert [r.meal for r in change.add] == [again]
    assert not file_live(again, change.add, [])


def test_what_the_crew_touched_is_never_replaced() -> None:
    mine = _record().labelled("Sunday roast")
    again = made_meal(made_run("Hob", DAWN + 5, 21))
    assert not file_live(again, [mine], [])
    assert not file_history([again], [mine], [], (DAWN - HOUR, DAWN + HOUR))


def test_a_deleted_meal_does_not_come_back() -> None:
    meal = _record().meal
    removed = [(meal.start_s, meal.end_s)]
    assert not file_live(meal, [], removed)
    assert not file_history([meal], [], removed, (DAWN - HOUR, DAWN + HOUR))


def test_what_live_operation_found_stays_before_what_was_read_later() -> None:
    live = _record()
    change = file_history(
        [
            made_meal(made_run("Hob", DAWN + 5)),
            made_meal(made_run("Hob", DAWN + 5 * HOUR)),
        ],
        [live],
        [],
        (DAWN - HOUR, DAWN + 9 * HOUR),
    )
    assert change.drop == ()
    assert [r.start_s for r in change.add] == [DAWN + 5 * HOUR]
    assert {r.origin for r in change.add} == {Origin.HISTORY}


starts = st.lists(st.integers(0, 300), unique=True, max_size=12)


@given(starts, starts)
def test_reading_the_past_twice_changes_nothing(
    found: list[int], live: list[int]
) -> None:
    meals = [made_meal(made_run("Hob", DAWN + 900 * n, 10)) for n in sorted(found)]
    known = [_record(DAWN + 900 * n) for n in live]
    read = (DAWN, DAWN + 301 * 900)
    change = file_history(meals, known, [], read)
    assert change.drop == ()
    book = [*known, *change.add]
    assert not file_history(meals, book, [], read)
    assert {r for r in book if r.origin is Origin.LIVE} == set(known)


def test_what_a_later_reading_no_longer_finds_is_dropped_in_the_span_it_read() -> None:
    old = record_of(made_meal(made_run("Hob", DAWN)), Origin.HISTORY)
    older = record_of(made_meal(made_run("Hob", DAWN - 48 * HOUR)), Origin.HISTORY)
    change = file_history([], [older, old], [], (DAWN - HOUR, DAWN + HOUR))
    assert change.drop == (old,)


# Editing


def test_splitting_and_joining_keeps_the_energy() -> None:
    runs = made_run("Oven", DAWN, 60, 700), made_run("Hob", DAWN + HOUR, wh=300)
    whole = record_of(made_meal(*runs), Origin.LIVE)
    first, second = split(whole, DAWN + HOUR / 2)
    assert (first.meal.appliances, second.meal.appliances) == (("Oven",), ("Hob",))
    assert (first.meal.soc_start, second.meal.soc_end) == (80.0, 76.0)
    assert first.meal.net_ah is None
    assert first.edited
    assert second.edited
    again = join([second, first])
    for name in ("energy_wh", "bank_ah", "drawn_ah", "solar_share", "start_s", "end_s"):
        assert getattr(again.meal, name) == pytest.approx(getattr(whole.meal, name))
    assert again.meal.runs == whole.meal.runs
    assert again.meal_id == whole.meal_id


@pytest.mark.parametrize("at_s", [DAWN - 1, DAWN, DAWN + 5 * HOUR])
def test_a_cut_with_nothing_on_one_side_is_refused(at_s: float) -> None:
    with pytest.raises(MealEditError) as error:
        split(_record(), at_s)
    assert error.value.key == "split_outside"


def test_runs_that_begin_in_the_same_second_stay_together() -> None:
    whole = record_of(
        made_meal(made_run("Hob", DAWN), made_run("Oven", DAWN + 0.4)), Origin.LIVE
    )
    with pytest.raises(MealEditError):
        split(whole, DAWN + 0.2)


def test_joining_needs_two_meals_with_nothing_between() -> None:
    early, noon, late = (_record(DAWN + n * HOUR) for n in range(3))
    with pytest.raises(MealEditError, match="join_one"):
        join([early, early])
    with pytest.raises(MealEditError, match="join_apart"):
        join([early, late], [early, noon, late])


def test_a_joined_meal_takes_the_words_of_its_largest_part() -> None:
    drink = _record(DAWN, HOT_DRINK, wh=400)
    small = _record(DAWN + HOUR, "breakfast", wh=50).labelled(dish="Porridge")
    large = _record(DAWN + 2 * HOUR, "lunch", wh=90)
    joined = join([drink, small, large])
    assert joined.label == "lunch"
    assert joined.dish == "Porridge"


def test_the_sun_of_joined_meals_is_known_only_if_it_was_of_both() -> None:
    known = _record()
    dark = record_of(
        made_meal(made_run("Hob", DAWN + HOUR), sun_known=False), Origin.LIVE
    )
    assert join([known, dark]).meal.solar_share is None
    assert dark.solar_wh is None


def test_a_label_can_be_given_and_cleared() -> None:
    named = _record().labelled("Feast", "Fish stew")
    assert (named.label, named.dish) == ("Feast", "Fish stew")
    assert named.labelled(dish="").dish is None
    assert named.labelled("").label == "dinner"
    assert named.labelled(dish="").label == "Feast"


# Finding and summing


def test_meals_are_found_by_span_words_and_appliance() -> None:
    records = [
        _record(DAWN, "breakfast"),
        _record(DAWN + 6 * HOUR, "lunch").labelled(dish="Fish stew"),
        _record(DAWN + 12 * HOUR, "dinner"),
    ]

    def labels(**wanted: object) -> list[str]:
        return [r.label for r in select(records, MealFilter(**wanted))]  # type: ignore[arg-type]

    assert labels() == ["breakfast", "lunch", "dinner"]
    assert labels(from_s=DAWN + 1, to_s=DAWN + 12 * HOUR) == ["lunch"]
    assert labels(label="Lunch") == ["lunch"]
    assert labels(dish="fish STEW") == ["lunch"]
    assert labels(appliance="hob") == ["breakfast", "lunch", "dinner"]
    assert labels(appliance="Oven") == []


@given(
    st.lists(
        st.tuples(
            st.floats(0, 400),
            st.sampled_from(["dinner", "lunch"]),
            st.floats(1, 2000),
        ),
        max_size=20,
    ),
    st.sampled_from(list(Grouping)),
)
def test_however_meals_are_grouped_their_energy_is_all_there(
    rows: list[tuple[float, str, float]], grouping: Grouping
) -> None:
    records = [_record(DAWN + h * HOUR, label, wh) for h, label, wh in rows]
    tally = MealTally(grouping, AZORES)
    for record in records:
        tally.add(record)
    sums = tally.sums()
    assert sum(s.energy_wh for s in sums) == pytest.approx(sum(r[2] for r in rows))
    assert sum(s.meals for s in sums) == len(rows)
    for group in sums:
        assert group.solar_share == pytest.approx(0.5)


def test_periods_are_those_of_the_boat_and_in_order_of_time() -> None:
    # 23:30 UTC is 22:30 in the Azores in winter: still the old year there.
    eve = datetime(2026, 12, 31, 23, 30, tzinfo=UTC)
    records = [_record(t.timestamp()) for t in (eve + timedelta(hours=2), eve)]
    for grouping, groups in (
        (Grouping.YEAR, ["2026", "2027"]),
        (Grouping.MONTH, ["2026-12", "2027-01"]),
        (Grouping.DAY, ["2026-12-31", "2027-01-01"]),
        # ISO 8601: the first of January 2027 is a Friday of the old year's last week.
        (Grouping.WEEK, ["2026-W53"]),
    ):
        tally = MealTally(grouping, AZORES)
        for record in records:
            tally.add(record)
        assert [s.group for s in tally.sums()] == groups


def test_by_appliance_only_its_own_runs_count() -> None:
    tally = MealTally(Grouping.APPLIANCE, UTC)
    tally.add(
        record_of(
            made_meal(
                made_run("Oven", DAWN, wh=700),
                made_run("Hob", DAWN, wh=300),
                sun_known=False,
            ),
            Origin.LIVE,
        )
    )
    assert [(s.group, s.meals, s.energy_wh) for s in tally.sums()] == [
        ("Oven", 1, 700),
        ("Hob", 1, 300),
    ]
    assert tally.sums()[0].solar_share is None


# Handing out


def written(export: CsvExport | JsonExport, records: list[MealRecord]) -> str:
    return export.head() + "".join(map(export.meal, records)) + export.tail()


@given(st.text(), st.text(), st.lists(st.text(min_size=1), min_size=1, max_size=3))
def test_no_word_of_the_crew_becomes_a_formula(
    label: str, dish: str, appliances: list[str]
) -> None:
    """OWASP, "CSV Injection": =, +, -, @, tab and line ends start a formula."""
    meal = made_meal(*(made_run(name, DAWN) for name in appliances))
    record = record_of(meal, Origin.LIVE).labelled(label, dish)
    text = written(CsvExport(AZORES), [record])
    header, row = list(csv.reader(io.StringIO(text, newline="")))
    assert len(header) == len(row)
    assert float(row[header.index("energy_wh")]) == pytest.approx(
        meal.energy_wh, abs=0.1
    )
    for cell in row:
        try:
            float(cell)
        except ValueError:
            assert not cell.startswith(tuple("=+-@\t\r\n＝＋－＠"))
    if dish:
        assert row[header.index("dish")].removeprefix("'") == dish.removeprefix("'")


def test_a_negative_number_stays_a_number_in_the_spreadsheet() -> None:
    charging = replace(_record().meal, net_ah=-2.5)
    row = CsvExport(UTC).meal(record_of(charging, Origin.LIVE))
    assert ",-2.5," in row


@pytest.mark.parametrize("count", [0, 1, 3])
def test_the_json_export_is_one_array(count: int) -> None:
    records = [_record(DAWN + n * HOUR) for n in range(count)]
    rows = json.loads(written(JsonExport(AZORES), records))
    assert rows == [meal_details(record, AZORES) for record in records]
    if rows:
        assert rows[0]["runs"][0]["appliance"] == "Hob"


def test_a_meal_row_tells_utc_and_the_boats_time() -> None:
    row = meal_row(_record(datetime(2026, 5, 12, 19, tzinfo=UTC).timestamp()), AZORES)
    assert row["start"] == "2026-05-12T19:00:00+00:00"
    assert row["boat_time"] == "2026-05-12 19:00"  # the Azores keep UTC in summer


def test_the_summary_is_a_text_to_share() -> None:
    records = [_record(), _record(DAWN + HOUR).labelled("=feast", "Fish stew")]
    tally = MealTally(Grouping.ALL, UTC)
    for record in records:
        tally.add(record)
    lines = list(summary_lines("Sandpiper", records, tally, english()))
    assert lines[0] == "Sandpiper: meals"
    assert lines[1].startswith("Tue 12 May 2026 06:00-06:20 dinner: Hob; 100 Wh")
    assert "=feast (Fish stew)" in lines[2]
    assert lines[-1].startswith("All: 2 meals, 200 Wh")
    unmeasured = record_of(replace(_record().meal, solar_share=None), Origin.LIVE)
    tally = MealTally(Grouping.ALL, UTC)
    tally.add(unmeasured)
    lines = list(summary_lines("Sandpiper", [unmeasured], tally, english()))
    assert not any("sun" in line for line in lines)
    assert lines[-1].startswith("All: 1 meal, 100 Wh")
    nothing = list(
        summary_lines("Sandpiper", [], MealTally(Grouping.ALL, UTC), english())
    )
    assert nothing[-1] == "No meals in this time."


def test_an_entry_survives_storage() -> None:
    for record in (_record(), _record().labelled("Feast", "Fish stew")):
        row = json.loads(json.dumps(record_to_mapping(record)))
        assert record_from_mapping(row) == record
