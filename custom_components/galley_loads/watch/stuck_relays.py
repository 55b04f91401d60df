"""Repairs about relays whose cut did not take effect: somebody has to look at them."""

from collections.abc import Mapping
from typing import Final

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import issue_registry as ir

from ..boat.boat_entry import parts_of
from ..const import DOMAIN, SUBENTRY_CIRCUIT
from ..core.cutting import CuttingRules

ISSUE_STUCK: Final = "relay_stuck"


def issue_id(subentry_id: str) -> str:
    """Return the id of the repair about a circuit's relay."""
    return f"{ISSUE_STUCK}_{subentry_id}"


class StuckRelays:
    """The repairs of one boat's relays, as the rules of cutting see them."""

    def __init__(
        self,
        hass: HomeAssistant,
        entry: ConfigEntry,
        circuit_names: Mapping[str, str],
        rules: CuttingRules,
    ) -> None:
        """Know the circuits' names by subentry id."""
        self._hass = hass
        self._entry = entry
        self._circuit_names = circuit_names
        self._rules = rules

    @callback
    def async_refresh(self) -> None:
        """Raise the repairs of the relays that are stuck, and take back the others."""
        for subentry_id, circuit in self._circuit_names.items():
            trouble = self._rules.stuck(circuit)
            if trouble is None:
                ir.async_delete_issue(self._hass, DOMAIN, issue_id(subentry_id))
                continue
            ir.async_create_issue(
                self._hass,
                DOMAIN,
                issue_id(subentry_id),
                is_fixable=True,
                is_persistent=False,
                severity=ir.IssueSeverity.ERROR,
                translation_key=f"{ISSUE_STUCK}_{trouble.value}",
                translation_placeholders={
                    "boat": self._entry.title,
                    "circuit": circuit,
                },
                data={"entry_id": self._entry.entry_id, "subentry_id": subentry_id},
            )


@callback
def async_forget_stuck(hass: HomeAssistant, entry: ConfigEntry) -> None:
    """Take back the repairs about the relays of a boat that is removed."""
    for part in parts_of(entry, SUBENTRY_CIRCUIT):
        ir.async_delete_issue(hass, DOMAIN, issue_id(part.part_id))
