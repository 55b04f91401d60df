"""Two weeks aboard Sandpiper, and asking her for advice."""

from copy import replace
from functools import cache

from custom_components.galley_loads.core.advice import Advice, advise, request_dish
from custom_components.galley_loads.core.bank.charge_state import (
    ChargeSource,
    ChargeState,
)
from custom_components.galley_loads.core.outlook.outlook import Outlook
from custom_components.galley_loads.core.outlook.outlook_view import OutlookView
from tests.core.outlook.outlook_rig import (
    BREAKFAST,
    DINNER,
    Life,
    broken_clouds,
    cooking_boat,
    unix,
)

START_S = unix("2026-05-01T00:00:00")

AT_S = unix("2026-05-12T16:00:00")
"""An afternoon, for what needs no past."""

PORRIDGE, STEW, ROAST = "Porridge", "Fish stew", "Roast"


@cache
def sandpiper(hour: float, uses: tuple = (BREAKFAST, DINNER)) -> OutlookView:
    """Two weeks aboard under broken clouds, seen at an hour (UTC) of the last day."""
    boat = cooking_boat()
    outlook = Outlook(boat)
    life = Life(boat, clear_sky_index=broken_clouds, uses=uses)
    life.live(outlook, START_S, 14.0 + hour / 24.0)
    return outlook.view()


def at_charge(view: OutlookView, soc: float) -> OutlookView:
    """Return the same view with another state of charge on the gauge."""
    return replace(
        view,
        charge=ChargeState(ChargeSource.GAUGE, soc, 0.7),
        last=replace(view.last, soc=soc),
    )


def ask(view: OutlookView, dish: str, **changes: object) -> Advice:
    request = replace(request_dish(view.boat, dish), **changes)
    return advise(view, request, view.last.at_s)
