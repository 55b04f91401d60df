"""Buttons of a circuit with a relay: leave it on for an hour, cut it now."""

from collections.abc import Awaitable, Callable
from dataclasses import dataclass
import time
from typing import Final, override

from homeassistant.components.button import ButtonEntity, ButtonEntityDescription
from homeassistant.core import Context, HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .actions.cut_errors import raise_if_refused
from .entities.circuit_entity import CircuitEntity, circuits_with_relay
from .entities.learn_entities import async_add_learn_buttons
from .runtime import GalleyConfigEntry
from .watch.circuit_cutting import CircuitCutting

PARALLEL_UPDATES = 0

_KEEP_S: Final = 3600.0


@dataclass(frozen=True, kw_only=True)
class CircuitButtonDescription(ButtonEntityDescription):
    """What a press asks about the circuit of that name."""

    press_fn: Callable[[CircuitCutting, str, Context | None], Awaitable[None]]


async def _keep(circuits: CircuitCutting, circuit: str, _: Context | None) -> None:
    circuits.async_keep(circuit, time.time() + _KEEP_S)


async def _cut_now(
    circuits: CircuitCutting, circuit: str, context: Context | None
) -> None:
    raise_if_refused(circuit, await circuits.async_cut_for(context, circuit))


CIRCUIT_BUTTONS: tuple[CircuitButtonDescription, ...] = (
    CircuitButtonDescription(
        key="keep_an_hour", translation_key="keep_an_hour", press_fn=_keep
    ),
    CircuitButtonDescription(
        key="cut_now", translation_key="cut_now", press_fn=_cut_now
    ),
)


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GalleyConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the circuits' and the appliances' buttons."""
    async_add_learn_buttons(entry, async_add_entities)
    for subentry in circuits_with_relay(entry):
        async_add_entities(
            [
                CircuitButton(entry.runtime_data, description, subentry)
                for description in CIRCUIT_BUTTONS
            ],
            config_subentry_id=subentry.subentry_id,
        )


class CircuitButton(CircuitEntity, ButtonEntity):
    """A button of a circuit."""

    entity_description: CircuitButtonDescription

    @override
    def _refresh(self) -> bool:
        available = self.view is not None
        changed = available is not self._attr_available
        self._attr_available = available
        return changed

    @override
    async def async_press(self) -> None:
        """Ask for it, in the name of whoever pressed it."""
        press = self.entity_description.press_fn
        await press(self.circuits, self.circuit_name, self._context)
