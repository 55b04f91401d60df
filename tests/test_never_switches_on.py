"""Nothing here ever closes a circuit: shown by the code's text, and by random histories."""

import ast
from collections.abc import Iterator
import contextlib
from datetime import timedelta
import logging
from pathlib import Path
from random import Random
from typing import Any, Final

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant, ServiceCall, callback
from homeassistant.exceptions import HomeAssistantError
import probatio
import pytest
from pytest_homeassistant_custom_component.common import async_fire_time_changed

import custom_components.galley_loads as package
from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.core.cutting import Answer
from custom_components.galley_loads.watch.notifications import (
    EVENT_PHONE_ACTION,
    action_id,
)

from .at_home import LOAD, RELAY, VOLTAGE, set_sensor, set_sensors, start_boat
from .watched import PHONE, boat_with, calls_heard, galley_entry

PACKAGE: Final = Path(package.__file__).parent
OTHER_RELAY: Final = "input_boolean.galley_two"

HISTORIES: Final = 500


@pytest.fixture
def no_logs() -> Iterator[None]:
    """Keep thousands of moments, and the jumps of the clock, out of the log."""
    loggers = [logging.getLogger(name) for name in ("asyncio", "homeassistant", DOMAIN)]
    levels = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.ERROR)
    yield
    for logger, level in zip(loggers, levels, strict=True):
        logger.setLevel(level)


def sources() -> Iterator[tuple[Path, ast.Module]]:
    """Yield every module of the integration, read as Python."""
    for path in sorted(PACKAGE.rglob("*.py")):
        yield path, ast.parse(path.read_text(encoding="utf-8"))


def test_no_line_of_code_names_an_action_that_switches_on() -> None:
    forbidden = {"turn_on", "toggle", "SERVICE_TURN_ON", "SERVICE_TOGGLE"}
    for path, tree in sources():
        for node in ast.walk(tree):
            named: str | None = None
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                named = node.value.strip()
            elif isinstance(node, ast.Name):
                named = node.id
            elif isinstance(node, ast.Attribute):
                named = node.attr.removeprefix("async_")
            elif isinstance(node, ast.alias):
                named = node.name
            assert named not in forbidden, f"{path.name}:{getattr(node, 'lineno', '?')}"


def test_actions_are_called_from_two_modules_only() -> None:
    callers: dict[str, int] = {}
    for path, tree in sources():
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute) and node.attr in (
                "async_call",
                "call",
                "async_turn_on",
                "async_execute",
            ):
                where = path.relative_to(PACKAGE).as_posix()
                callers[where] = callers.get(where, 0) + 1
    assert callers == {"watch/relay.py": 1, "watch/notifications.py": 1}


def test_the_door_to_a_relay_knows_one_action() -> None:
    tree = ast.parse((PACKAGE / "watch" / "relay.py").read_text(encoding="utf-8"))
    (call,) = (
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr == "async_call"
    )
    domain, action = call.args[:2]
    assert isinstance(domain, ast.Name)
    assert isinstance(action, ast.Name)
    assert (domain.id, action.id) == ("HOMEASSISTANT_DOMAIN", "SERVICE_TURN_OFF")


def test_no_module_writes_the_state_of_an_entity_by_hand() -> None:
    for path, tree in sources():
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute) and node.attr in ("async_set", "set"):
                holder = ast.unparse(node.value)
                assert not holder.endswith("states"), f"{path.name}:{node.lineno}"


def test_no_shipped_blueprint_or_automation_switches_on() -> None:
    root = PACKAGE.parents[1]
    shipped = [*PACKAGE.rglob("*.yaml")]
    if (blueprints := root / "blueprints").is_dir():
        shipped += blueprints.rglob("*.yaml")
    for path in shipped:
        text = path.read_text(encoding="utf-8")
        assert "turn_on" not in text, path
        assert "toggle" not in text, path


class Chaos:
    """A boat to which anything may happen, and the calls that it makes."""

    def __init__(
        self, hass: HomeAssistant, freezer: FrozenDateTimeFactory, seed: int
    ) -> None:
        """Set up two circuits: one is cut by rule, one is asked about."""
        self.hass, self.freezer = hass, freezer
        self.random = Random(seed)
        mapping = boat_with({"cut": "auto", "idle_minutes": 1})
        mapping["circuits"].append(
            {
                "name": "Galley 2",
                "breaker_current": 15,
                "voltage": 120,
                "relay": OTHER_RELAY,
                "cut": "ask",
                "idle_minutes": 1,
            }
        )
        mapping["appliances"][1] |= {"circuit": "Galley 2", "standby_power": 9}
        self.entry = galley_entry(
            {}, circuits=mapping["circuits"], appliances=mapping["appliances"]
        )
        self.calls = calls_heard(hass)
        self.closing: list[ServiceCall] = []
        self.opened: list[str] = []
        self.tokens: list[str] = []
        self.load_w = 130.0

    async def start(self) -> None:
        """Set the boat up, with actions that would close a relay within reach."""
        self.freezer.move_to("2026-05-11T12:00:00+00:00")
        set_sensors(self.hass, self.load_w)
        set_sensor(self.hass, OTHER_RELAY, "on")
        await start_boat(self.hass, self.entry)
        register = self.hass.services.async_register
        for domain in ("homeassistant", "switch", "input_boolean"):
            for action in ("turn_on", "toggle"):
                register(domain, action, self.closing.append)
            register(domain, "turn_off", self._turn_off)
        register("notify", PHONE, self._note_tokens)

    @callback
    def _turn_off(self, call: ServiceCall) -> None:
        self.opened.append(call.data["entity_id"])
        luck = self.random.random()
        if luck < 0.1:
            raise HomeAssistantError("no answer")
        if luck < 0.8:
            set_sensor(self.hass, call.data["entity_id"], "off")

    @callback
    def _note_tokens(self, call: ServiceCall) -> None:
        for button in call.data.get("data", {}).get("actions", ()):
            self.tokens = [*self.tokens, button["action"].rsplit(".", 1)[1]][-20:]

    async def settle(self) -> None:
        """Let everything that was begun be done."""
        await self.hass.async_block_till_done(wait_background_tasks=True)

    def pass_time(self, seconds: float) -> None:
        """Let time pass, with a reading that may or may not come."""
        self.freezer.tick(timedelta(seconds=seconds))
        if self.random.random() < 0.9:
            set_sensor(self.hass, LOAD, self.load_w + self.random.choice((-1, 0, 1)))
            set_sensor(self.hass, VOLTAGE, 13 + self.random.random() / 100)
        async_fire_time_changed(self.hass)

    async def act(self, action: str, data: dict[str, Any]) -> None:
        """Call one of our actions with whatever it is given."""
        with contextlib.suppress(HomeAssistantError, probatio.Invalid):
            await self.hass.services.async_call(DOMAIN, action, data, blocking=True)

    async def anything(self) -> set[str]:
        """Let one thing happen; return the relays that were moved by hand."""
        draw = self.random
        moved: set[str] = set()
        match draw.randrange(11):
            case 0 | 1 | 2:
                self.pass_time(draw.choice((5, 30, 90, 600)))
            case 3:
                relay = draw.choice((RELAY, OTHER_RELAY))
                states = ("on", "on", "off", "unavailable", "unknown", "opening")
                set_sensor(self.hass, relay, draw.choice(states))
                moved.add(relay)
            case 4:
                self.load_w = draw.choice((110, 130, 130, 150, 900, 1600, -20, 9000))
            case 5:
                lost = draw.choice(("unavailable", "unknown", "nan", "", "on"))
                set_sensor(self.hass, draw.choice((LOAD, VOLTAGE)), lost)
            case 6:
                circuit = draw.choice(("Galley 1", "Galley 2", "galley 1", "Bilge"))
                await self.act("cut_now", {"circuit": circuit})
            case 7:
                data = {"circuit": "Galley 1", "duration": {"minutes": 2}}
                await self.act("keep_circuit", draw.choice((data, {"until": 7}, {})))
            case 8:
                token = draw.choice([*self.tokens, "0" * 16])
                answer = draw.choice(list(Answer))
                action = action_id(self.entry.entry_id, answer, token)
                self.hass.bus.async_fire(EVENT_PHONE_ACTION, {"action": action})
            case 9:
                button = draw.choice(("cut_now", "keep_on_for_an_hour"))
                number = draw.choice((1, 2))
                state = self.hass.states.get(f"button.galley_{number}_{button}")
                if state is not None:
                    await self._press(state.entity_id)
            case 10 if draw.random() < 0.3:
                await self.hass.config_entries.async_reload(self.entry.entry_id)
        return moved

    async def _press(self, entity_id: str) -> None:
        with contextlib.suppress(HomeAssistantError):
            await self.hass.services.async_call(
                "button", "press", {"entity_id": entity_id}, blocking=True
            )

    def open_relays(self) -> set[str]:
        """Return the relays that do not say that they are closed."""
        relays = (RELAY, OTHER_RELAY)
        return {relay for relay in relays if self.hass.states.get(relay).state != "on"}


@pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations", "no_logs")
@pytest.mark.parametrize("seed", range(2))
async def test_no_history_ever_closes_a_circuit(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory, seed: int
) -> None:
    chaos = Chaos(hass, freezer, seed)
    await chaos.start()
    circuits = chaos.entry.runtime_data.circuits
    for level in circuits.rules._resting.values():
        level.observe(130, 3600)
    for _ in range(HISTORIES // 2):
        # Every history begins with live circuits, closed by hand, and relays inspected.
        for relay in (RELAY, OTHER_RELAY):
            set_sensor(hass, relay, "on")
        chaos.load_w = 130.0
        circuits = chaos.entry.runtime_data.circuits
        for subentry_id in circuits.names:
            circuits.async_inspected(subentry_id)
        for seconds in (5, 70):
            chaos.pass_time(seconds)
            await chaos.settle()
        for _ in range(chaos.random.randrange(2, 6)):
            open_before = chaos.open_relays()
            moved_by_hand = await chaos.anything()
            await chaos.settle()
            assert open_before - moved_by_hand <= chaos.open_relays()
    assert not chaos.closing
    others = {
        call for call in chaos.calls if call[0] not in (DOMAIN, "button", "notify")
    }
    assert others == {("homeassistant", "turn_off")}
    # The histories were not idle: both circuits were opened many times.
    assert set(chaos.opened) == {RELAY, OTHER_RELAY}
    assert len(chaos.opened) > 50
