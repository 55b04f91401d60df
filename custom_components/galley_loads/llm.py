"""Tools for an assistant: may I cook now, and what goes on in the galley."""

from collections.abc import Mapping
from typing import Any, Final, override

from homeassistant.components.homeassistant import async_should_expose
from homeassistant.components.llm import LLMTools
from homeassistant.core import HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.llm import (
    LLM_API_ASSIST,
    LLMContext,
    Tool,
    ToolAnnotations,
    ToolInput,
    ToolResult,
)
import probatio

from .actions.dish_input import CONF_DISH, CONF_READY_BY, LONGEST_MINUTES
from .actions.spoken_question import (
    CONF_APPLIANCE,
    CONF_BOAT,
    CONF_MINUTES,
    async_answer,
    boat_named,
    loaded_boats,
)
from .boat.rights import RIGHTS, async_demand
from .const import DOMAIN
from .core.advice.day_ahead import surplus_sun_w
from .language.speech import english
from .runtime import GalleyConfigEntry

PROMPT: Final = (
    "Before saying whether something can be cooked, baked or heated on the boat now, ask"
    f" {DOMAIN}__may_i_cook. Never say that an appliance is certainly off: what runs is"
    " an estimate."
)

READ_ONLY: Final = ToolAnnotations(
    read_only=True, destructive=False, idempotent=True, open_world=False
)


class GalleyTool(Tool):
    """Base of the tools; with several boats the boat has to be named."""

    annotations = READ_ONLY
    integration = DOMAIN

    def __init__(
        self, boats: list[GalleyConfigEntry], fields: Mapping[Any, Any]
    ) -> None:
        """Offer the boats by name."""
        which: dict[Any, Any] = {}
        if len(boats) > 1:
            titles = [entry.title for entry in boats]
            which[probatio.Required(CONF_BOAT)] = probatio.In(titles)
        self._titles = {entry.title for entry in boats}
        self.parameters = probatio.Schema({**which, **fields})

    @override
    async def async_call(
        self, hass: HomeAssistant, tool_input: ToolInput, llm_context: LLMContext
    ) -> ToolResult:
        """Answer, or say what is wrong."""
        try:
            data = self.parameters(tool_input.tool_args)
            name = data.get(CONF_BOAT)
            if name is None and len(self._titles) == 1:
                # The one that this assistant may know of.
                (name,) = self._titles
            entry = boat_named(hass, name)
            await async_demand(hass, llm_context.context, RIGHTS["advise"], entry)
            return ToolResult(data=await self._answer(entry, data))
        except (HomeAssistantError, probatio.Invalid) as err:
            return ToolResult(data={"error": str(err)}, error=True)

    async def _answer(
        self, entry: GalleyConfigEntry, data: Mapping[str, Any]
    ) -> dict[str, Any]:
        raise NotImplementedError


class MayICookTool(GalleyTool):
    """Advice on a dish or an appliance."""

    name = f"{DOMAIN}__may_i_cook"
    title = "Advice on cooking"
    description = (
        "Says whether to cook something on the boat now, to wait until a better time, or"
        " to hold off, with reasons from battery, sun and habits. Name one of the boat's"
        " dishes, or an appliance and for how many minutes it would run. With neither it"
        " answers for the dish that is planned."
    )

    def __init__(self, boats: list[GalleyConfigEntry]) -> None:
        """Offer the dishes and appliances of these boats by name."""
        known = [entry.runtime_data.coordinator.boat for entry in boats]
        dishes = list(dict.fromkeys(d.name for boat in known for d in boat.dishes))
        appliances = list(
            dict.fromkeys(a.name for boat in known for a in boat.appliances)
        )
        fields: dict[Any, Any] = {}
        if dishes:
            fields[probatio.Optional(CONF_DISH)] = probatio.In(dishes)
        if appliances:
            fields[probatio.Optional(CONF_APPLIANCE)] = probatio.In(appliances)
        fields[probatio.Optional(CONF_MINUTES)] = probatio.All(
            probatio.Coerce(float), probatio.Range(min=1, max=LONGEST_MINUTES)
        )
        fields[
            probatio.Optional(CONF_READY_BY, description="Boat time, such as 19:30")
        ] = str
        super().__init__(boats, fields)

    @override
    async def _answer(
        self, entry: GalleyConfigEntry, data: Mapping[str, Any]
    ) -> dict[str, Any]:
        return await async_answer(entry, data)


class GalleyNowTool(GalleyTool):
    """What goes on in the galley."""

    name = f"{DOMAIN}__galley_now"
    title = "The galley now"
    description = (
        "Tells what runs in the boat's galley now, what the meal in progress and the last"
        " one took, how full the battery bank is, and how much sun is to spare."
    )

    def __init__(self, boats: list[GalleyConfigEntry]) -> None:
        """Take no more than the boat's name."""
        super().__init__(boats, {})

    @override
    async def _answer(
        self, entry: GalleyConfigEntry, data: Mapping[str, Any]
    ) -> dict[str, Any]:
        runtime = entry.runtime_data
        live = runtime.coordinator.data
        if live is None:
            return {"boat": entry.title, "error": "Nothing is known yet."}
        result = runtime.advice.result
        surplus_w = None
        if result is not None:
            surplus_w = surplus_sun_w(result.view, live, result.day.clear_sky_index)
        meals = {"current_meal": live.current_meal, "last_meal": live.last_meal}
        return {
            "boat": entry.title,
            "running": [
                {
                    "appliance": now.name,
                    "state": now.state.value,
                    "power_w": round(now.power_w),
                    "energy_wh": round(now.run_energy_wh),
                }
                for now in live.appliances
                if now.running
            ],
            "load_w": _whole(live.load_w),
            "standby_w": _whole(live.standby_w),
            "charge_percent": _whole(live.soc),
            "surplus_sun_w": _whole(surplus_w),
            **{
                key: None
                if meal is None
                else {
                    "label": meal.label,
                    "energy_wh": round(meal.energy_wh),
                    "bank_ah": round(meal.bank_ah, 1),
                }
                for key, meal in meals.items()
            },
            "missing": english().say_all(live.complaints),
        }


def _whole(value: float | None) -> int | None:
    return None if value is None else round(value)


@callback
def async_get_tools(
    hass: HomeAssistant, llm_context: LLMContext, api_id: str
) -> LLMTools | None:
    """Return the tools for the boats of which an assistant may know the advice."""
    if api_id != LLM_API_ASSIST or not llm_context.assistant:
        return None
    registry = er.async_get(hass)
    boats: list[GalleyConfigEntry] = []
    for entry in loaded_boats(hass):
        entity_id = registry.async_get_entity_id(
            "sensor", DOMAIN, f"{entry.entry_id}_advice"
        )
        if entity_id is not None and async_should_expose(
            hass, llm_context.assistant, entity_id
        ):
            boats.append(entry)
    if not boats:
        return None
    return LLMTools(tools=[MayICookTool(boats), GalleyNowTool(boats)], prompt=PROMPT)
