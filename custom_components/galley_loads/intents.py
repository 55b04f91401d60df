"""The intent behind "can I bake now?", for assistants that work without a language model."""

from typing import Final, override

from homeassistant.core import HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import config_validation as cv, intent
import probatio

from .actions.dish_input import CONF_DISH, CONF_READY_BY
from .actions.spoken_question import (
    CONF_APPLIANCE,
    CONF_BOAT,
    CONF_MINUTES,
    async_answer,
    boat_named,
)
from .boat.rights import RIGHTS, async_demand

INTENT_MAY_I_COOK: Final = "GalleyMayICook"


@callback
def async_setup_intents(hass: HomeAssistant) -> None:
    """Register the intent."""
    intent.async_register(hass, MayICookHandler())


class MayICookHandler(intent.IntentHandler):
    """Answers with the verdict and its first reason."""

    intent_type = INTENT_MAY_I_COOK
    description = "Says whether a dish or an appliance can be started on the boat now"

    @property
    @override
    def slot_schema(self) -> dict[probatio.Marker, object]:
        """What may be named."""
        return {
            probatio.Optional(CONF_DISH): cv.string,
            probatio.Optional(CONF_APPLIANCE): cv.string,
            probatio.Optional(CONF_MINUTES): probatio.Coerce(float),
            probatio.Optional(CONF_READY_BY): cv.string,
            probatio.Optional(CONF_BOAT): cv.string,
        }

    @override
    async def async_handle(self, intent_obj: intent.Intent) -> intent.IntentResponse:
        """Answer in words."""
        slots = self.async_validate_slots(intent_obj.slots)
        asked = {key: slot["value"] for key, slot in slots.items()}
        response = intent_obj.create_response()
        response.response_type = intent.IntentResponseType.QUERY_ANSWER
        try:
            entry = boat_named(intent_obj.hass, asked.get(CONF_BOAT))
            await async_demand(
                intent_obj.hass, intent_obj.context, RIGHTS["advise"], entry
            )
            answer = await async_answer(entry, asked)
        except HomeAssistantError as err:
            response.async_set_error(
                intent.IntentResponseErrorCode.NO_VALID_TARGETS, str(err)
            )
            return response
        response.async_set_speech(answer["spoken"])
        response.async_set_speech_slots({"verdict": answer["verdict"]})
        return response
