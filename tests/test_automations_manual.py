"""The manual's page on automations: complete, and its examples work as they stand."""

from pathlib import Path
import re
from typing import Any

from homeassistant.components import conversation
from homeassistant.core import Context, HomeAssistant
from homeassistant.setup import async_setup_component
from homeassistant.util.yaml import parse_yaml
import pytest
import yaml

from custom_components.galley_loads.actions import advice_actions, dish_input
from custom_components.galley_loads.condition import CONDITIONS
from custom_components.galley_loads.core.occasions.event_filter import EVENT_KINDS
from custom_components.galley_loads.core.occasions.occurrence import OccurrenceKind
from custom_components.galley_loads.entities.occurrence_events import (
    ACTIVITY,
    BOAT_EVENTS,
    VERDICTS,
)
from custom_components.galley_loads.intents import INTENT_MAY_I_COOK
from custom_components.galley_loads.trigger import TRIGGERS

from .at_home import boat_entry, start_boat
from .galley_day import GalleyDay

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

MANUAL = (Path(__file__).parent.parent / "docs" / "automations.md").read_text()
EXAMPLES = re.findall(r"```yaml\n(.*?)```", MANUAL, re.DOTALL)


def test_every_trigger_condition_action_and_event_is_in_the_manual() -> None:
    named = {
        *(f"galley_loads.{name}" for name in (*TRIGGERS, *CONDITIONS)),
        *("galley_loads.advise", "galley_loads.plan_day", "galley_loads.what_if"),
        *(kind for one in (ACTIVITY, *BOAT_EVENTS) for kind in one.types.values()),
        *VERDICTS,
        *dish_input.DISH_FIELDS,
        *advice_actions._CHANGES,
        *(advice_actions.CONF_DISHES, advice_actions.CONF_DAYS),
        *(advice_actions.CONF_SERIES, INTENT_MAY_I_COOK),
    }
    assert [name for name in sorted(named) if f"`{name}`" not in MANUAL] == []
    assert len(TRIGGERS) == len(EVENT_KINDS - {OccurrenceKind.HOT_DRINK_FINISHED})


def automation_of(example: dict[str, Any]) -> dict[str, Any]:
    """Return an example as an automation: what it leaves out is filled in."""
    if "action" in example:
        return automation_of({"actions": [example]})
    waiting = [{"trigger": "event", "event_type": "asked"}]
    return {"triggers": waiting, "actions": [], **example}


@pytest.mark.parametrize(
    "text", [text for text in EXAMPLES if not text.startswith("language")]
)
async def test_every_example_is_a_valid_automation(
    hass: HomeAssistant, text: str, caplog: pytest.LogCaptureFixture
) -> None:
    await start_boat(hass, boat_entry())
    example = parse_yaml(text)
    assert isinstance(example, dict)
    assert await async_setup_component(
        hass, "automation", {"automation": automation_of(example)}
    )
    await hass.async_block_till_done()
    (entity_id,) = hass.states.async_entity_ids("automation")
    assert hass.states.get(entity_id).state == "on"
    assert "failed to setup" not in caplog.text


async def test_the_sentences_of_the_manual_are_understood(
    hass: HomeAssistant, day: GalleyDay, tmp_path: Path
) -> None:
    (text,) = [text for text in EXAMPLES if text.startswith("language")]
    assert yaml.safe_load(text)["language"] == "en"
    folder = tmp_path / "custom_sentences" / "en"
    folder.mkdir(parents=True)
    (folder / "galley_loads.yaml").write_text(text)
    await start_boat(hass, boat_entry())
    await day.live(600, solar_w=300.0, step_s=60)
    hass.config.config_dir = str(tmp_path)
    assert await async_setup_component(hass, "conversation", {})
    await hass.async_block_till_done()

    async def say(words: str) -> str:
        result = await conversation.async_converse(
            hass, words, None, Context(), language="en"
        )
        return str(result.response.speech["plain"]["speech"])

    assert (await say("can I bake now?")).startswith(("Yes, Oven", "Better"))
    assert "Bread" in await say("may I cook the bread")
    # Nothing is planned, and it says so.
    assert "Kittiwake" in await say("can I cook now")
