"""Numbers and times as the crew says them."""

from custom_components.galley_loads.language.speech import ENGLISH
from tests.core.advice.sandpiper import AT_S
from tests.core.outlook.outlook_rig import cooking_boat

SAYS = ENGLISH.conventions


def test_numbers_are_told_as_the_crew_says_them():
    assert SAYS.duration(40 * 60) == "40 min"
    assert SAYS.duration(2 * 3600) == "2 h"
    assert SAYS.duration(3 * 3600 + 1200) == "3 h 20 min"
    assert SAYS.duration(9 * 86_400) == "9 days"
    assert (SAYS.percent(0.935), SAYS.charge(34.6)) == ("94 %", "35 %")
    assert [SAYS.chance(s) for s in (1.0, 0.93, 0.0)] == [
        "over 97 %",
        "93 %",
        "under 3 %",
    ]
    assert (SAYS.ampere_hours(4.62), SAYS.ampere_hours(36.4)) == ("4.6 Ah", "36 Ah")
    assert (SAYS.energy(419.6), SAYS.energy(1240.0)) == ("420 Wh", "1.24 kWh")


def test_times_are_on_the_boats_clock_and_name_another_day():
    zone = cooking_boat().time_zone
    assert SAYS.clock(AT_S + 3600, AT_S, zone) == "17:00"
    assert SAYS.clock(AT_S + 16 * 3600, AT_S, zone) == "08:00 tomorrow"
    assert SAYS.clock(AT_S + 48 * 3600, AT_S, zone) == "16:00 on Thursday"
