"""Meals that tests of the meal book share."""

from custom_components.galley_loads.core.inference.model.activity import (
    Phase,
    PhaseSpan,
    Run,
)
from custom_components.galley_loads.core.meals.meal_builder import Meal


def made_run(
    appliance: str, start_s: float, minutes: float = 20, wh: float = 100
) -> Run:
    """Return a run with half its energy straight from the sun."""
    end_s = start_s + minutes * 60
    phases = (PhaseSpan(Phase.HEATING, start_s, end_s),)
    return Run(
        appliance, start_s, end_s, wh, 1500, 0.9, phases, wh / 11, wh / 22, wh / 2
    )


def made_meal(*runs: Run, label: str = "dinner", sun_known: bool = True) -> Meal:
    """Return the meal of these runs."""
    return Meal(
        min(r.start_s for r in runs),
        max(r.end_s for r in runs),
        label,
        tuple(sorted({r.appliance for r in runs})),
        sum(r.energy_wh for r in runs),
        sum(r.bank_ah for r in runs),
        sum(r.drawn_ah for r in runs),
        3.5,
        0.5 if sun_known else None,
        80.0,
        76.0,
        runs,
    )
