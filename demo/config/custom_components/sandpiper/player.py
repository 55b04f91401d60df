"""Plays the prepared readings; an open relay takes its circuit's loads away."""

from collections.abc import Callable
from dataclasses import dataclass
import gzip
import json
import logging
import time
from typing import Any, Final

from homeassistant.core import CALLBACK_TYPE, Event, HomeAssistant, callback
from homeassistant.helpers.event import async_call_later
from homeassistant.util.hass_dict import HassKey

_LOGGER = logging.getLogger(__name__)

INVERTER_OUTPUT: Final = "sensor.inverter_output"
BANK_CURRENT: Final = "sensor.bank_current"
BANK_VOLTAGE: Final = "sensor.bank_voltage"

INVERTER_EFFICIENCY: Final = 0.92


@dataclass(frozen=True, slots=True)
class CircuitPower:
    """A circuit's power over time, mean W per step."""

    start_s: float
    step_s: float
    power_w: list[float]

    def at(self, at_s: float) -> float:
        """Return the power at one moment."""
        step = int((at_s - self.start_s) / self.step_s)
        return self.power_w[step] if 0 <= step < len(self.power_w) else 0.0


@dataclass(frozen=True, slots=True)
class Coming:
    """What comes: entities, circuits by relay, rows `(entity_id, state, at_s)`."""

    entities: list[dict[str, Any]]
    circuits: dict[str, CircuitPower]
    rows: list[tuple[str, str, float]]


def read_coming(path: str) -> Coming:
    """Read the prepared file."""
    with gzip.open(path, "rt", encoding="utf-8") as file:
        document = json.load(file)
    return Coming(
        document["entities"],
        {
            relay: CircuitPower(**circuit)
            for relay, circuit in document["circuits"].items()
        },
        [(entity_id, state, at_s) for entity_id, state, at_s in document["rows"]],
    )


class Player:
    """Shows each row when its time has come, and once the file ends, nothing more."""

    def __init__(self, hass: HomeAssistant, coming: Coming) -> None:
        """Begin with what was last."""
        self._hass = hass
        self._coming = coming
        self._position = 0
        self._cancel: CALLBACK_TYPE | None = None
        self._listeners: dict[str, Callable[[], None]] = {}
        self.entities = {entity["entity_id"]: entity for entity in coming.entities}
        # What the boat would show with every relay as the crew has it.
        self._told: dict[str, str | None] = {
            entity_id: entity["state"] for entity_id, entity in self.entities.items()
        }
        # Relays that somebody here has opened, against the crew.
        self._opened: set[str] = set()

    @callback
    def async_listen(self, entity_id: str, listener: Callable[[], None]) -> None:
        """Call `listener` whenever the entity has something new to show."""
        self._listeners[entity_id] = listener

    def value(self, entity_id: str) -> str | None:
        """Return what an entity shows now; None: nothing."""
        told = self._told[entity_id]
        if told is None or told == "unavailable":
            return None
        if not self._opened or entity_id not in (INVERTER_OUTPUT, BANK_CURRENT):
            return told
        now_s = time.time()
        spared_w = sum(self._coming.circuits[relay].at(now_s) for relay in self._opened)
        if entity_id == INVERTER_OUTPUT:
            return f"{max(0.0, round((float(told) - spared_w) / 10) * 10):.0f}"
        voltage_v = float(self._told[BANK_VOLTAGE] or 12.8)
        return f"{float(told) + spared_w / INVERTER_EFFICIENCY / voltage_v:.1f}"

    def is_closed(self, relay: str) -> bool:
        """Return whether a relay is closed."""
        return self._told[relay] == "on" and relay not in self._opened

    @callback
    def async_switch(self, relay: str, closed: bool) -> None:
        """Open or close a relay, until the crew uses it itself."""
        if closed:
            self._opened.discard(relay)
            self._told[relay] = "on"
        else:
            self._opened.add(relay)
        for entity_id in (relay, INVERTER_OUTPUT, BANK_CURRENT):
            self._tell(entity_id)

    @callback
    def async_start(self) -> None:
        """Begin to play."""
        self._play()

    @callback
    def async_stop(self, _: Event | None = None) -> None:
        """Stop playing."""
        if self._cancel is not None:
            self._cancel()
            self._cancel = None

    @callback
    def _play(self, _: object = None) -> None:
        rows = self._coming.rows
        now_s = time.time()
        changed: dict[str, None] = {}
        while self._position < len(rows) and rows[self._position][2] <= now_s:
            entity_id, state, _at_s = rows[self._position]
            self._told[entity_id] = state
            if entity_id in self._coming.circuits:
                self._opened.discard(entity_id)
            changed[entity_id] = None
            self._position += 1
        if self._position == len(rows):
            _LOGGER.warning("What was prepared has all been shown; start the demo anew")
            self._told = dict.fromkeys(self._told)
            changed = dict.fromkeys(self._told)
        else:
            wait_s = max(0.05, rows[self._position][2] - time.time())
            self._cancel = async_call_later(self._hass, wait_s, self._play)
        for entity_id in changed:
            self._tell(entity_id)

    @callback
    def _tell(self, entity_id: str) -> None:
        if (listener := self._listeners.get(entity_id)) is not None:
            listener()


PLAYER: HassKey[Player] = HassKey("sandpiper")
