"""Counters."""

from custom_components.galley_loads.core.ledger.totals import Totals


def test_counters_that_were_saved_stay_as_they_were_while_the_boat_counts_on() -> None:
    saved = Totals(appliance_wh={"Kettle": 100.0}).as_mapping()
    totals = Totals.from_mapping(saved)
    totals.appliance_wh["Kettle"] += 11.0
    assert saved["appliance_wh"] == {"Kettle": 100.0}
