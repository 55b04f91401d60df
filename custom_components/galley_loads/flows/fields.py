"""Fields of forms: the platform's selectors, set up for a boat."""

from collections.abc import Iterable
from enum import StrEnum

from homeassistant.components.number import DOMAIN as NUMBER_DOMAIN
from homeassistant.components.sensor import DOMAIN as SENSOR_DOMAIN
from homeassistant.helpers.selector import (
    EntitySelector,
    EntitySelectorConfig,
    EntityWithDeviceFilterSelectorConfig,
    NumberSelector,
    NumberSelectorConfig,
    NumberSelectorMode,
    SelectOptionDict,
    SelectSelector,
    SelectSelectorConfig,
    SelectSelectorMode,
)

from ..boat_entry import Part
from ..core.boat_fields import PLACE_DOMAINS, SWITCH_DOMAINS
from ..sensor_check import MEASURES, Quantity

INPUT_NUMBER_DOMAIN = "input_number"


def entity_field(quantity: Quantity, *, several: bool = False) -> EntitySelector:
    """Return a field for an entity that measures a quantity."""
    if quantity is Quantity.SWITCH:
        filters = [
            EntityWithDeviceFilterSelectorConfig(domain=domain)
            for domain in SWITCH_DOMAINS
        ]
    elif quantity is Quantity.POSITION:
        filters = [
            EntityWithDeviceFilterSelectorConfig(domain=domain)
            for domain in PLACE_DOMAINS
        ]
    elif quantity is Quantity.FORECAST:
        filters = [EntityWithDeviceFilterSelectorConfig(domain=SENSOR_DOMAIN)]
    else:
        measure = MEASURES[quantity]
        filters = [
            EntityWithDeviceFilterSelectorConfig(
                domain=SENSOR_DOMAIN, device_class=measure.device_class
            ),
            EntityWithDeviceFilterSelectorConfig(
                domain=[SENSOR_DOMAIN, NUMBER_DOMAIN, INPUT_NUMBER_DOMAIN],
                unit_of_measurement=list(measure.units),
            ),
        ]
    return EntitySelector(EntitySelectorConfig(filter=filters, multiple=several))


def number_field(
    low: float | None, high: float, unit: str | None = None, step: float = 1
) -> NumberSelector:
    """Return a field for a number within limits.

    The interface fills a required field with its lower limit. A field that must be thought
    about has none (None): it shows 0, which the boat's schema refuses.
    """
    config = NumberSelectorConfig(max=high, step=step, mode=NumberSelectorMode.BOX)
    if low is not None:
        config["min"] = low
    if unit is not None:
        config["unit_of_measurement"] = unit
    return NumberSelector(config)


def word_field(words: type[StrEnum], translation_key: str) -> SelectSelector:
    """Return a field for one word of a fixed set."""
    return SelectSelector(
        SelectSelectorConfig(
            options=[word.value for word in words],
            mode=SelectSelectorMode.DROPDOWN,
            translation_key=translation_key,
        )
    )


def part_field(parts: Iterable[Part], *, several: bool = False) -> SelectSelector:
    """Return a field for one or several of the boat's appliances or circuits."""
    return SelectSelector(
        SelectSelectorConfig(
            options=[
                SelectOptionDict(value=part.part_id, label=part.name) for part in parts
            ],
            mode=SelectSelectorMode.DROPDOWN,
            multiple=several,
        )
    )
