"""Fields of forms: the platform's selectors, set up for a boat."""

from collections.abc import Iterable
from typing import Any, override

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

from ..boat.boat_entry import BoatPart
from ..boat.sensor_check import MEASURES, Quantity
from ..core.boat.boat_fields import NUMBER_DOMAINS, PLACE_DOMAINS, SWITCH_DOMAINS

HELPER_DOMAINS = ("input_boolean", "input_number")


class BoatEntitySelector(EntitySelector):
    """Lists only what can serve; what cannot is refused by the flow, with the reason."""

    @override
    def __call__(self, data: Any) -> str | list[str]:
        """Validate the choice as if everything had been listed."""
        everything = self.config.copy()
        everything.pop("exclude_entities", None)
        return EntitySelector(everything)(data)


def entity_field(
    quantity: Quantity, *, left_out: Iterable[str] = (), several: bool = False
) -> EntitySelector:
    """Return a field for an entity that measures a quantity.

    Entities `left_out` are not listed. A helper is asked for with the name of its
    integration: without it the interface offers to create one, which measures and switches
    nothing.
    """
    if quantity is Quantity.SWITCH:
        filters = [_of_domain(domain) for domain in SWITCH_DOMAINS]
    elif quantity is Quantity.POSITION:
        filters = [_of_domain(domain) for domain in PLACE_DOMAINS]
    elif quantity is Quantity.FORECAST:
        filters = [_of_domain(SENSOR_DOMAIN)]
    else:
        measure = MEASURES[quantity]
        units = list(measure.units)
        filters = [
            EntityWithDeviceFilterSelectorConfig(
                domain=SENSOR_DOMAIN, device_class=measure.device_class
            ),
            *(
                EntityWithDeviceFilterSelectorConfig(
                    **_of_domain(domain), unit_of_measurement=units
                )
                for domain in NUMBER_DOMAINS
            ),
        ]
    return BoatEntitySelector(
        EntitySelectorConfig(
            filter=filters, multiple=several, exclude_entities=list(left_out)
        )
    )


def _of_domain(domain: str) -> EntityWithDeviceFilterSelectorConfig:
    if domain in HELPER_DOMAINS:
        return EntityWithDeviceFilterSelectorConfig(domain=domain, integration=domain)
    return EntityWithDeviceFilterSelectorConfig(domain=domain)


def number_field(
    unit: str | None = None,
    step: float = 1,
    limits: tuple[float, float] | None = None,
) -> NumberSelector:
    """Return a field for a number.

    Limits are for a number that the boat's schema does not see as it stands in the form.
    The schema says what is allowed; the platform only that a number is too large.
    """
    config = NumberSelectorConfig(step=step, mode=NumberSelectorMode.BOX)
    if limits is not None:
        config["min"], config["max"] = limits
    if unit is not None:
        config["unit_of_measurement"] = unit
    return NumberSelector(config)


def word_field(words: Iterable[str], translation_key: str) -> SelectSelector:
    """Return a field for one word of a fixed set."""
    return SelectSelector(
        SelectSelectorConfig(
            options=[str(word) for word in words],
            mode=SelectSelectorMode.DROPDOWN,
            translation_key=translation_key,
        )
    )


def part_field(parts: Iterable[BoatPart], *, several: bool = False) -> SelectSelector:
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
