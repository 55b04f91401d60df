"""Repairs: put another sensor in a lost one's place, confirm a changed unit, and more."""

from typing import Any

from homeassistant.components.repairs import RepairsFlow, RepairsFlowResult
from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant
import probatio

from ..boat.boat_sensors import watched_of
from ..boat.claims import Claim, claim_of_another, claimed_by
from ..boat.sensor_check import Quantity, sensor_problem, unfit_for
from ..boat.source_changes import (
    async_note_unit,
    async_replace_entity,
    async_set_reversed,
)
from ..flows.fields import entity_field
from ..watch.recurring_watch import ISSUE_RECURRING
from ..watch.sign_watch import ISSUE_SIGN
from ..watch.source_watch import ISSUE_MISSING
from ..watch.stuck_relays import ISSUE_STUCK
from .recurring_repair import RecurringLoadFlow
from .relay_repair import RelayStuckFlow
from .sign_repair import WrongSignFlow

CONF_REPLACEMENT = "replacement"


class SourceRepairFlow(RepairsFlow):
    """Base of the repairs about one entity of one boat."""

    def __init__(self, entry_id: str, entity_id: str) -> None:
        """Remember which entity of which boat it is about."""
        self._entry_id = entry_id
        self._entity_id = entity_id

    def _boat(self) -> tuple[ConfigEntry, Quantity] | None:
        """Return the boat and what the entity measures there; None if it is gone."""
        entry = self.hass.config_entries.async_get_entry(self._entry_id)
        if entry is None:
            return None
        quantity = watched_of(entry).get(self._entity_id)
        return None if quantity is None else (entry, quantity)


class SensorMissingFlow(SourceRepairFlow):
    """Asks which entity takes the place of a lost one."""

    async def async_step_init(self, _: Any = None) -> RepairsFlowResult:
        """Begin."""
        return await self.async_step_replace()

    async def async_step_replace(
        self, user_input: dict[str, Any] | None = None
    ) -> RepairsFlowResult:
        """Choose the replacement."""
        if (boat := self._boat()) is None:
            return self.async_create_entry(data={})
        entry, quantity = boat
        errors: dict[str, str] = {}
        claim: Claim | None = None
        if user_input is not None:
            replacement = user_input[CONF_REPLACEMENT]
            if replacement in watched_of(entry):
                errors = {CONF_REPLACEMENT: "duplicate"}
            elif problem := sensor_problem(self.hass, quantity, replacement):
                errors = {CONF_REPLACEMENT: problem}
            elif self._entity_id in claimed_by(entry) and (
                claim := claim_of_another(self.hass, [replacement], entry)
            ):
                errors = {CONF_REPLACEMENT: "claimed"}
            else:
                async_replace_entity(self.hass, entry, self._entity_id, replacement)
                async_note_unit(self.hass, entry, replacement, quantity)
                async_set_reversed(self.hass, entry, replacement, False)
                return self.async_create_entry(data={})
        return self.async_show_form(
            step_id="replace",
            data_schema=probatio.Schema(
                {
                    probatio.Required(CONF_REPLACEMENT): entity_field(
                        quantity, left_out=unfit_for(self.hass, quantity)
                    )
                }
            ),
            errors=errors,
            description_placeholders={
                "boat": entry.title,
                "entity_id": self._entity_id,
                "problem": "" if claim is None else claim.problem,
            },
        )


class UnitChangedFlow(SourceRepairFlow):
    """Confirms that a sensor now speaks in another unit."""

    async def async_step_init(self, _: Any = None) -> RepairsFlowResult:
        """Begin."""
        return await self.async_step_confirm()

    async def async_step_confirm(
        self, user_input: dict[str, Any] | None = None
    ) -> RepairsFlowResult:
        """Note the new unit once confirmed."""
        if (boat := self._boat()) is None:
            return self.async_create_entry(data={})
        entry, quantity = boat
        if user_input is not None:
            async_note_unit(self.hass, entry, self._entity_id, quantity)
            return self.async_create_entry(data={})
        return self.async_show_form(
            step_id="confirm",
            data_schema=probatio.Schema({}),
            description_placeholders={
                "boat": entry.title,
                "entity_id": self._entity_id,
            },
        )


async def async_create_fix_flow(
    hass: HomeAssistant,
    issue_id: str,
    data: dict[str, str | int | float | None] | None,
) -> RepairsFlow:
    """Return the flow that cures an issue."""
    data = data or {}
    if issue_id.startswith(ISSUE_STUCK):
        return RelayStuckFlow(str(data.get("entry_id")), str(data.get("subentry_id")))
    if issue_id.startswith(ISSUE_RECURRING):
        return RecurringLoadFlow(
            str(data.get("entry_id")),
            str(data.get("load")),
            float(data.get("power_w") or 0.0),
            float(data.get("duration_s") or 0.0),
        )
    if issue_id.startswith(ISSUE_SIGN):
        return WrongSignFlow(data)
    entry_id, entity_id = str(data.get("entry_id")), str(data.get("entity_id"))
    if issue_id.startswith(ISSUE_MISSING):
        return SensorMissingFlow(entry_id, entity_id)
    return UnitChangedFlow(entry_id, entity_id)
