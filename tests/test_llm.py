"""Assist: "can I bake now?" gets the advice, from a language model's tools and without."""

from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.components.homeassistant.exposed_entities import async_expose_entity
from homeassistant.core import Context, HomeAssistant
from homeassistant.helpers import intent, llm
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util
import pytest

from custom_components.galley_loads.actions.spoken_advice import spoken
from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.intents import INTENT_MAY_I_COOK

from .at_home import another_boat, boat_entry, start_boat
from .galley_day import GalleyDay

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

ASSISTANT = "conversation"
MAY_I = f"{DOMAIN}__may_i_cook"
NOW = f"{DOMAIN}__galley_now"

FULMAR = another_boat(
    "Fulmar",
    appliances=[{"name": "Hob", "kind": "induction_hob", "rated_power": 1800}],
    circuits=[],
    dishes=[],
)


@pytest.fixture
async def day(hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> GalleyDay:
    """A day aboard, at noon, with Assist."""
    made = GalleyDay(hass, freezer)
    assert await async_setup_component(hass, "homeassistant", {})
    assert await async_setup_component(hass, "llm", {})
    return made


def context() -> llm.LLMContext:
    return llm.LLMContext(
        platform="test",
        context=Context(),
        language="en",
        assistant=ASSISTANT,
        device_id=None,
    )


async def tools(hass: HomeAssistant) -> dict[str, llm.Tool]:
    """Return our tools as an assistant is offered them."""
    api = await llm.async_get_api(hass, llm.LLM_API_ASSIST, context())
    return {tool.name: tool for tool in api.tools if tool.name.startswith(DOMAIN)}


async def call(hass: HomeAssistant, name: str, **args: Any) -> Any:
    api = await llm.async_get_api(hass, llm.LLM_API_ASSIST, context())
    return await api.async_call_tool(llm.ToolInput(name, args))


async def aboard(hass: HomeAssistant, day: GalleyDay, exposed: bool = True) -> None:
    await start_boat(hass, boat_entry())
    async_expose_entity(hass, ASSISTANT, "sensor.kittiwake_advice", exposed)
    await day.live(600, solar_w=300.0, step_s=60)


async def test_can_i_bake_now_gets_the_advice(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await aboard(hass, day)
    answer = (await call(hass, MAY_I, appliance="Oven", minutes=40)).data
    assert answer["verdict"] in {"cook_now", "wait"}
    assert answer["minutes"] == 40
    assert "Oven" in answer["spoken"]
    assert answer["reasons"]
    assert "forecast" not in answer


async def test_a_dish_of_the_boat_may_be_named(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await aboard(hass, day)
    answer = (await call(hass, MAY_I, dish="Bread", ready_by="19:30")).data
    assert answer["dish"] == "Bread"
    assert answer["verdict"] != "unknown"


async def test_an_appliance_without_minutes_runs_as_long_as_usual(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await aboard(hass, day)
    assert (await call(hass, MAY_I, appliance="Kettle")).data["minutes"] == 30
    await day.live(240, 1620)
    await day.live(4200, 120, step_s=60)
    assert (await call(hass, MAY_I, appliance="Kettle")).data["minutes"] == (
        pytest.approx(4, abs=0.5)
    )


async def test_what_is_wrong_is_told_to_the_assistant(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await aboard(hass, day)
    for args in (
        {"dish": "Cake"},
        {"appliance": "Oven", "minutes": -1},
        {"dish": "Bread", "ready_by": "tea time"},
        {},
    ):
        result = await call(hass, MAY_I, **args)
        assert result.error, args
        assert result.data["error"]


async def test_the_assistant_is_told_what_runs_now(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await aboard(hass, day)
    await day.live(120, 1620)
    answer = (await call(hass, NOW)).data
    assert answer["boat"] == "Kittiwake"
    assert [one["appliance"] for one in answer["running"]] == ["Kettle"]
    assert answer["running"][0]["power_w"] == pytest.approx(1500, rel=0.05)
    assert answer["charge_percent"] == 80
    assert answer["current_meal"]["label"] == "hot drink"
    assert answer["last_meal"] is None


async def test_a_boat_that_is_not_exposed_is_not_spoken_of(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await aboard(hass, day, exposed=False)
    assert await tools(hass) == {}


async def test_with_two_boats_the_boat_is_named(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await aboard(hass, day)
    await start_boat(hass, boat_entry(FULMAR))
    await day.live(60)
    # Of a boat that is not exposed nothing is said.
    assert (await call(hass, NOW)).data["boat"] == "Kittiwake"
    async_expose_entity(hass, ASSISTANT, "sensor.fulmar_advice", True)
    assert (await call(hass, NOW)).error
    assert (await call(hass, NOW, boat="Fulmar")).data["boat"] == "Fulmar"
    answer = (await call(hass, MAY_I, boat="Fulmar", appliance="Hob", minutes=20)).data
    assert answer["dish"] == "Hob"
    assert (await call(hass, MAY_I, boat="Fulmar", appliance="Oven")).error


async def test_tools_only_read(hass: HomeAssistant, day: GalleyDay) -> None:
    await aboard(hass, day)
    found = await tools(hass)
    assert set(found) == {MAY_I, NOW}
    assert all(tool.annotations.read_only for tool in found.values())
    assert all(tool.description for tool in found.values())


# Without a language model


async def intend(hass: HomeAssistant, **slots: Any) -> intent.IntentResponse:
    return await intent.async_handle(
        hass,
        "test",
        INTENT_MAY_I_COOK,
        {key: {"value": value} for key, value in slots.items()},
    )


async def test_the_intent_answers_in_words(hass: HomeAssistant, day: GalleyDay) -> None:
    await aboard(hass, day)
    response = await intend(hass, appliance="oven", minutes="40")
    speech = response.speech["plain"]["speech"]
    assert speech.startswith(("Yes, Oven", "Better wait with Oven"))
    assert response.response_type is intent.IntentResponseType.QUERY_ANSWER


@pytest.mark.parametrize(
    "slots", [{"dish": "Cake"}, {}, {"dish": "Bread", "boat": "Flying Dutchman"}]
)
async def test_the_intent_says_what_it_lacks(
    hass: HomeAssistant, day: GalleyDay, slots: dict[str, str]
) -> None:
    await aboard(hass, day)
    response = await intend(hass, **slots)
    assert response.response_type is intent.IntentResponseType.ERROR


@pytest.mark.parametrize(
    ("verdict", "start", "said"),
    [
        ("cook_now", None, "Yes, Bread can start now. Because."),
        (
            "wait",
            "2026-05-11T13:30:00+00:00",
            "Better wait with Bread until 13:30. Because.",
        ),
        ("wait", None, "Better wait with Bread. Because."),
        ("hold_off", None, "Better hold off with Bread. Because."),
        ("unknown", None, "I cannot tell about Bread. Because."),
    ],
)
def test_every_verdict_can_be_said(verdict: str, start: str | None, said: str) -> None:
    answer = {"dish": "Bread", "verdict": verdict, "start": start}
    zone = dt_util.get_time_zone("Atlantic/Azores")
    assert zone is not None
    assert spoken({**answer, "reasons": ["Because."]}, zone) == said
    assert spoken({**answer, "reasons": []}, zone) + " Because." == said
