"""A boat with a relay in the platform's harness: its galley, its clock, its phone."""

from collections.abc import Callable, Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from typing import Any, Final

from freezegun.api import FrozenDateTimeFactory
from homeassistant.const import EVENT_CALL_SERVICE
from homeassistant.core import Event, HomeAssistant, ServiceCall, callback
from homeassistant.helpers import issue_registry as ir
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.runtime import GalleyRuntime
from custom_components.galley_loads.watch.circuit_cutting import CircuitCutting
from custom_components.galley_loads.watch.galley_watch import GalleyWatch
from custom_components.galley_loads.watch.notifications import EVENT_PHONE_ACTION
from custom_components.galley_loads.watch.stuck_relays import issue_id

from .at_home import (
    KITTIWAKE,
    LOAD,
    RELAY,
    VOLTAGE,
    boat_entry,
    set_sensor,
    set_sensors,
    settle,
    start_boat,
    subentry_id,
)

START = "2026-05-11T12:00:00+00:00"
STANDBY_W = 22.0
REST_W = 110.0
PHONE = "mobile_app_cook"

CUT_STATE = "event.galley_1_cutting"


def boat_with(circuit: Mapping[str, Any], **changes: Any) -> dict[str, Any]:
    """Return Kittiwake's boat file with another circuit."""
    mapping = deepcopy(KITTIWAKE) | changes
    mapping["circuits"][0] |= circuit
    mapping["appliances"][0] |= {"standby_power": STANDBY_W}
    return mapping


@dataclass
class Galley:
    """The boat's truth in the harness, and what was called and sent."""

    hass: HomeAssistant
    freezer: FrozenDateTimeFactory
    entry: MockConfigEntry
    cooking_w: float = 0.0
    welded: bool = False
    obeys: bool = True
    silent: bool = False
    relay_calls: list[ServiceCall] = field(default_factory=list)
    sent: list[ServiceCall] = field(default_factory=list)

    async def start(self) -> None:
        """Set everything up and let the boat become known at rest."""
        self.freezer.move_to(START)
        self._be_the_platform()
        set_sensors(self.hass, REST_W + STANDBY_W)
        await start_boat(self.hass, self.entry)
        # The services of the platform itself are set up by then; ours take their place.
        self._be_the_platform()

    def _be_the_platform(self) -> None:
        """Answer for relays and phones."""
        register = self.hass.services.async_register
        register("homeassistant", "turn_off", self._turn_off)
        register("notify", PHONE, self.sent.append)
        register("notify", "send_message", self.sent.append)

    @callback
    def _turn_off(self, call: ServiceCall) -> None:
        self.relay_calls.append(call)
        entity_id = call.data["entity_id"]
        if self.obeys and entity_id in (RELAY, [RELAY]):
            set_sensor(self.hass, RELAY, "off")

    @property
    def runtime(self) -> GalleyRuntime:
        """The parts of the boat."""
        return self.entry.runtime_data

    @property
    def watch(self) -> GalleyWatch:
        """The watch of the boat."""
        return self.runtime.watch

    @property
    def circuits(self) -> CircuitCutting:
        """What is carried out about its circuits."""
        return self.runtime.circuits

    @property
    def closed(self) -> bool:
        """Whether the relay says that it is closed."""
        return self.hass.states.get(RELAY).state == "on"

    def load_w(self) -> float:
        """Return what the boat's meter shows."""
        live = self.closed or self.welded
        return REST_W + (STANDBY_W if live else 0.0) + self.cooking_w

    async def pass_time(self, seconds: float, step_s: float = 10.0) -> None:
        """Let time pass, readings and all."""
        passed = 0.0
        while passed < seconds:
            self.freezer.tick(step_s)
            passed += step_s
            if not self.silent:
                set_sensor(self.hass, LOAD, self.load_w())
                set_sensor(self.hass, VOLTAGE, 13.0 + passed // 10 % 2 / 100)
            await settle(self.hass)

    async def become_known(self) -> None:
        """Let the boat be known at rest, and be idle for the ten minutes of the rules."""
        for level in self.circuits.rules._resting.values():
            level.observe(REST_W + STANDBY_W, 40 * 60)
        await self.pass_time(12 * 60, 60)

    async def press(self, action: Any) -> None:
        """Press a button of the phone."""
        self.hass.bus.async_fire(EVENT_PHONE_ACTION, {"action": action})
        await self.hass.async_block_till_done(wait_background_tasks=True)

    def messages(self, service: str = PHONE) -> list[dict[str, Any]]:
        """Return the data of what was sent to one receiver."""
        return [call.data for call in self.sent if call.service == service]

    def buttons(self) -> dict[str, str]:
        """Return the buttons of the last question: title to action."""
        asked = [
            message
            for message in self.messages()
            if message.get("data", {}).get("actions")
        ][-1]
        return {
            button["title"]: button["action"] for button in asked["data"]["actions"]
        }

    def log(self) -> list[tuple[str, str]]:
        """Return what stands in the log: what and why."""
        return [(line.what, line.why) for line in self.circuits.log]

    async def restart(self) -> None:
        """Unload the boat and set it up again, as a restart does."""
        await self.hass.config_entries.async_unload(self.entry.entry_id)
        await self.hass.async_block_till_done(wait_background_tasks=True)
        await self.hass.config_entries.async_setup(self.entry.entry_id)
        await self.hass.async_block_till_done(wait_background_tasks=True)


def calls_heard(hass: HomeAssistant) -> list[tuple[str, str]]:
    """Return a list that fills with every action called from now on."""
    heard: list[tuple[str, str]] = []

    @callback
    def hear(event: Event) -> None:
        heard.append((event.data["domain"], event.data["service"]))

    hass.bus.async_listen(EVENT_CALL_SERVICE, hear)
    return heard


def options(**alerts: Any) -> dict[str, Any]:
    """Return an entry's options with a phone that is told everything."""
    return {
        "alerts": {"phones": [PHONE], "quiet_start": None, "quiet_end": None, **alerts}
    }


def galley_entry(
    circuit: Mapping[str, Any], chosen: dict[str, Any] | None = None, **changes: Any
) -> MockConfigEntry:
    """Return the entry of a boat with such a circuit."""
    entry = boat_entry(boat_with(circuit, **changes))
    object.__setattr__(entry, "options", {**entry.options, **(chosen or options())})
    return entry


type GalleyMaker = Callable[..., Galley]


AUTO = {"cut": "auto", "idle_minutes": 10}
ASK = {"cut": "ask", "idle_minutes": 10}
HOUR: Final = 3600


async def started(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    circuit: dict[str, Any],
    **changes: Any,
) -> Galley:
    galley = Galley(hass, freezer, galley_entry(circuit, **changes))
    await galley.start()
    return galley


async def act(hass: HomeAssistant, action: str, **data: Any) -> Any:
    return await hass.services.async_call(DOMAIN, action, data, blocking=True)


async def press(hass: HomeAssistant, entity_id: str) -> None:
    await hass.services.async_call(
        "button", "press", {"entity_id": entity_id}, blocking=True
    )
    await hass.async_block_till_done(wait_background_tasks=True)


def stuck_issue(galley: Galley) -> ir.IssueEntry | None:
    registry = ir.async_get(galley.hass)
    return registry.async_get_issue(
        DOMAIN, issue_id(subentry_id(galley.entry, "Galley 1"))
    )
