"""Which appliances are easily taken for each other: those of like power."""

from ..boat.boat import Boat


def power_likeness(boat: Boat) -> dict[str, dict[str, float]]:
    """Return for each appliance how like in power every other is, by names.

    It is the smaller rated power over the larger, above 0 and at most 1. What has its own
    meter is not inferred: it is like nothing.
    """
    return {
        one.name: {
            other.name: min(one.rated_power_w, other.rated_power_w)
            / max(one.rated_power_w, other.rated_power_w)
            for other in boat.appliances
            if other is not one
            and one.power_sensor is None
            and other.power_sensor is None
        }
        for one in boat.appliances
    }
