"""What goes on for hours at a draw that hides among lamps and pumps.

A water bath that holds its heat, a slow cooker turned low: inference may take the end of
the heating for the end of the run, and the bare power does not see the rest. Nobody is
asked under the rule *auto*, so there a run seen to begin is given the time that nine in
ten of its kind take. What that costs is an hour or two of standby; what a wrong cut costs
is the food.
"""

from typing import Final

from ..boat.boat import Appliance

SAME_RUN_S: Final = 600.0
"""What is told as two runs with less than this between them may be one in truth."""


def hidden_run_s(appliance: Appliance, margin_w: float) -> float:
    """Return for how long a run may go on unseen after its start, s; 0 if power shows it.

    `margin_w` is how far above rest the load may be while its circuit passes for idle.
    """
    description = appliance.kind.description
    if description.holding_share * appliance.rated_power_w >= margin_w:
        return 0.0
    return description.run_s[1]
