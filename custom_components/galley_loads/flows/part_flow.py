"""What the forms of appliances, circuits and dishes have in common.

A part is checked as it would stand in the whole boat, by the same schema that reads boat
files; what is wrong stands at the field.
"""

from collections.abc import Mapping
from typing import Any, ClassVar

from homeassistant.config_entries import (
    SOURCE_RECONFIGURE,
    ConfigSubentry,
    ConfigSubentryFlow,
    SubentryFlowResult,
)
from homeassistant.const import CONF_NAME
import probatio

from ..boat.boat_entry import BoatPart, parts_of, subentry_unique_id
from ..boat.claims import claim_of_another
from ..core.boat.boat_schema import SECTIONS
from .forms import form_errors, with_gaps
from .part_check import NEW_PART_ID, async_part_problems


class PartFlow(ConfigSubentryFlow):
    """Adds or changes a part of the boat."""

    part_type: ClassVar[str]

    @property
    def _changed(self) -> ConfigSubentry | None:
        """The part that is being changed, None while adding one."""
        if self.source == SOURCE_RECONFIGURE:
            return self._get_reconfigure_subentry()
        return None

    def parts(self, subentry_type: str) -> list[BoatPart]:
        """Return the boat's parts of a type as they are."""
        return parts_of(self._get_entry(), subentry_type)

    async def async_errors(
        self, name: str, data: Mapping[str, Any], form: probatio.Schema
    ) -> tuple[dict[str, str], dict[str, str]]:
        """Return the form's errors with this part in the boat, and the placeholders."""
        changed = self._changed
        part = BoatPart(changed.subentry_id if changed else NEW_PART_ID, name, data)
        problems = await async_part_problems(
            self.hass, self._get_entry(), self.part_type, part
        )
        return form_errors(problems, form)

    def claim_errors(
        self, field: str, entity_id: str
    ) -> tuple[dict[str, str], dict[str, str]]:
        """Return the error of an entity that is another boat's, and the placeholders."""
        claim = claim_of_another(self.hass, [entity_id], self._get_entry())
        if claim is None:
            return {}, {"problem": ""}
        return {field: "claimed"}, {"problem": claim.problem}

    def finish(self, name: str, data: Mapping[str, Any]) -> SubentryFlowResult:
        """Save the part."""
        unique_id = subentry_unique_id(self.part_type, name)
        if (changed := self._changed) is not None:
            return self.async_update_and_abort(
                self._get_entry(), changed, title=name, data=data, unique_id=unique_id
            )
        return self.async_create_entry(title=name, data=data, unique_id=unique_id)

    def show(
        self,
        step: str,
        form: probatio.Schema,
        suggested: Mapping[str, Any] | None,
        errors: dict[str, str],
        placeholders: Mapping[str, str],
    ) -> SubentryFlowResult:
        """Show a form with what is suggested and what is wrong."""
        return self.async_show_form(
            step_id=step,
            data_schema=self.add_suggested_values_to_schema(
                form, with_gaps(form, suggested)
            ),
            errors=errors,
            description_placeholders=placeholders,
        )


def named_answers(subentry: ConfigSubentry) -> dict[str, Any]:
    """Return a part as answers to suggest in its form, with what holds by itself."""
    assumed = SECTIONS[subentry.subentry_type].assumed
    return {CONF_NAME: subentry.title, **assumed, **subentry.data}
