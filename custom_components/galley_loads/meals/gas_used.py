"""A meal in bottled gas, with the gas hob that the boat's options tell of."""

from collections.abc import Mapping
from typing import Any

from ..const import CONF_STOVE_EFFICIENCY
from ..core.meals.bottled_gas import DEFAULT_GAS_HOB_EFFICIENCY, propane_g


def gas_of(energy_wh: float, options: Mapping[str, Any]) -> float:
    """Return the grams of propane that a meal of this AC-side energy would have taken.

    `options` are the config entry's; the efficiency in them is in percent.
    """
    percent = options.get(CONF_STOVE_EFFICIENCY, 100.0 * DEFAULT_GAS_HOB_EFFICIENCY)
    return propane_g(energy_wh, percent / 100.0)
