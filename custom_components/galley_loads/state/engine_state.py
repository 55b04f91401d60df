"""Taking up a saved engine, though the boat may have been changed meanwhile.

Where the boat is the same but for names and numbers, the engine goes on in the middle of a
meal. Where sensors or appliances came, went or changed their kind, what was cooked so far
is settled as the old boat saw it, and a new engine starts with what the old one learnt.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
import logging
from math import copysign
from typing import Any, cast

from ..core.boat.boat import Boat
from ..core.boat.boat_problems import BoatError
from ..core.boat.boat_schema import parse_boat
from ..core.engine import Engine
from ..core.events import Event
from ..core.live.live_view import ApplianceState
from ..core.metering.reading import Reading
from ..core.metering.source import sources_of
from .counters import Counters
from .engine_store import StoredEngine, StoredJournal

_LOGGER = logging.getLogger(__name__)


@dataclass(slots=True)
class TakenUp:
    """An engine ready to go on, the counters, and what was settled on the way."""

    engine: Engine
    counters: Counters
    events: list[Event] = field(default_factory=list)


def take_up(
    boat: Boat,
    names: Mapping[str, str],
    stored: StoredEngine,
    journal: StoredJournal | None = None,
) -> TakenUp:
    """Return the engine that goes on where the stored one stopped.

    `names` tells each appliance's present name by subentry id; `journal` has what came in
    after the state was stored. Counters of appliances that are gone are dropped. Reads
    time zones from files and may take a while: not for the event loop.
    """
    taken = TakenUp(Engine(boat), Counters(stored["counters"]))
    readings = [Reading(*row) for row in journal["readings"]] if journal else []
    try:
        _take_up_engine(boat, names, stored, readings, taken)
    except (BoatError, LookupError, TypeError, ValueError, AttributeError) as err:
        _LOGGER.warning(
            "%s: the saved state cannot be read (%s: %s). Counters go on; what was being"
            " cooked is lost",
            boat.name,
            type(err).__name__,
            err,
        )
        # Nothing half done.
        taken = TakenUp(Engine(boat), Counters(stored["counters"]))
    for key, value in (journal["counters"] if journal else {}).items():
        taken.counters.raise_to(key, value)
    taken.counters.forget_appliances_but(set(names))
    taken.counters.start_from(taken.engine.totals, names)
    return taken


def _take_up_engine(
    boat: Boat,
    names: Mapping[str, str],
    stored: StoredEngine,
    readings: list[Reading],
    taken: TakenUp,
) -> None:
    state = stored["engine"]
    if not state:
        return
    old_names = stored["names"]
    new_name = {
        old: names[part_id] for part_id, old in old_names.items() if part_id in names
    }
    changed = {old: new for old, new in new_name.items() if old != new}
    old_boat = parse_boat(stored["boat"])
    if _structure(old_boat, new_name) == _structure(boat, {}) and not (
        changed.keys() & _words_of_state(boat)
    ):
        state = renamed(state, changed)
        outlook = _outlook_of(boat, old_boat, state["outlook"])
        engine = Engine.from_state(boat, {**state, "outlook": outlook})
        taken.counters.start_from(engine.totals, names)
        engine.feed_all(readings, taken.events.extend)
        taken.counters.absorb(engine.totals, names)
        taken.engine = engine
        return
    old = Engine.from_state(old_boat, state)
    taken.counters.start_from(old.totals, old_names)
    old.feed_all(readings, taken.events.extend)
    taken.events += old.finish()
    taken.counters.absorb(old.totals, old_names)
    taken.engine = Engine.from_state(boat, _with_learned(boat, old, new_name))


def _structure(boat: Boat, new_name: Mapping[str, str]) -> tuple[object, ...]:
    """Return what must be equal for an engine to go on in the middle of things."""
    return (
        boat.sensors,
        tuple(
            (
                new_name.get(appliance.name, appliance.name),
                appliance.kind,
                appliance.power_sensor,
                appliance.supply,
                appliance.circuit,
            )
            for appliance in boat.appliances
        ),
        tuple((circuit.name, circuit.relay) for circuit in boat.circuits),
    )


def _with_learned(
    boat: Boat, old: Engine, new_name: Mapping[str, str]
) -> dict[str, Any]:
    """Return a new engine's state with what the old one learnt and counted."""
    fresh = _state_of(Engine(boat))
    past = _state_of(old)
    kinds = {
        new_name.get(appliance.name, appliance.name): appliance.kind
        for appliance in old.boat.appliances
    }
    same = {a.name for a in boat.appliances if kinds.get(a.name) == a.kind}
    for part in ("beliefs", "usual_hours"):
        learned = _keys_renamed(past["inference"][part], new_name)
        fresh["inference"][part] |= {
            name: value for name, value in learned.items() if name in same
        }
    fresh["inference"]["base_load"] = past["inference"]["base_load"]
    fresh["totals"] = {
        key: _keys_renamed(part, new_name) if isinstance(part, dict) else part
        for key, part in past["totals"].items()
    }
    if not new_name.keys() & _words_of_state(boat):
        past = renamed(past, new_name)
    for part in ("last_meal", "standby", "outlook"):
        fresh[part] = past[part]
    fresh["outlook"] = _outlook_of(boat, old.boat, past["outlook"])
    fresh["bank_sign"] |= _bank_witnesses(boat, old.boat, past["bank_sign"])
    sources = fresh["assembler"]["sources"]
    for entity_id in sources.keys() - _turned(boat, old.boat):
        if (row := past["assembler"]["sources"].get(entity_id)) is not None:
            # The last of a source is what was seen of its direction.
            sources[entity_id] = [*sources[entity_id][:-1], row[-1]]
    return fresh


def _bank_witnesses(
    boat: Boat, old_boat: Boat, past: Mapping[str, Any]
) -> Mapping[str, Any]:
    """Return what was seen of the bank's sign, as far as it holds with these sensors.

    Gauge and voltage go on where only load meters or chargers are other ones or turned:
    they do not ask them. Of two signs that are wrong the second is still told so when
    the first was mended.
    """
    if boat.sensors == old_boat.sensors:
        return past
    if _bank_sensors(boat) != _bank_sensors(old_boat):
        return {}
    fresh = _state_of(Engine(boat))["bank_sign"]
    return {
        "steps": fresh["steps"] | {"with_voltage": past["steps"]["with_voltage"]},
        "gauge": fresh["gauge"] | {"votes": past["gauge"]["votes"]},
    }


def _bank_sensors(boat: Boat) -> tuple[object, ...]:
    sensors = boat.sensors
    return (
        sensors.battery_power,
        sensors.battery_current,
        sensors.battery_voltage,
        sensors.battery_soc,
        sensors.battery_sign,
    )


def _outlook_of(
    boat: Boat, old_boat: Boat, outlook: Mapping[str, Any]
) -> dict[str, Any]:
    """Return what was learnt for the outlook, without what no longer holds.

    Another place has another sun; another array another yield; another bank another
    charge. What was learnt of a flow that was read the wrong way round is void.
    """
    fresh = _state_of(Engine(boat))["outlook"]
    kept = {**outlook, "sun": dict(outlook["sun"])}
    if (boat.latitude, boat.longitude) != (old_boat.latitude, old_boat.longitude):
        kept["sun"]["position"] = fresh["sun"]["position"]
    if _array_w(boat) != _array_w(old_boat):
        kept["sun"]["yields"] = fresh["sun"]["yields"]
    if boat.bank.capacity_ah != old_boat.bank.capacity_ah:
        kept |= {part: fresh[part] for part in ("charge", "bank_meter")}
    if turned := _turned(boat, old_boat):
        flows = ("quarters", "charge", "bank_meter", "conversion", "demand")
        kept |= {part: fresh[part] for part in flows}
        if any(sensor.entity_id in turned for sensor in boat.sensors.solar_power):
            kept["sun"] = {**fresh["sun"], "position": kept["sun"]["position"]}
    return kept


def _turned(boat: Boat, old_boat: Boat) -> set[str]:
    """Return the sensors that are read with the other sign than before."""
    before, now = _signs(old_boat), _signs(boat)
    return {one for one in now.keys() & before.keys() if now[one] != before[one]}


def _signs(boat: Boat) -> dict[str, float]:
    return {
        source.entity_id: copysign(1.0, source.scale) for source in sources_of(boat)
    }


def _array_w(boat: Boat) -> float | None:
    return None if boat.solar is None else boat.solar.array_power_w


def _keys_renamed(
    by_name: Mapping[str, Any], new_name: Mapping[str, str]
) -> dict[str, Any]:
    return {new_name.get(name, name): part for name, part in by_name.items()}


def renamed(value: Any, names: Mapping[str, str]) -> Any:
    """Return plain data with every text that is a key of `names` replaced."""
    if not names:
        return value
    if isinstance(value, str):
        return names.get(value, value)
    if isinstance(value, Mapping):
        return {
            names.get(key, key): renamed(part, names) for key, part in value.items()
        }
    if isinstance(value, (list, tuple)):
        return [renamed(part, names) for part in value]
    return value


def _state_of(engine: Engine) -> dict[str, Any]:
    """Return an engine's state as data of which parts are exchanged."""
    return cast(dict[str, Any], engine.snapshot())


def _words_of_state(boat: Boat) -> set[str]:
    """Return the words that an engine's state itself is made of.

    An appliance of such a name (`oven` is none, `heating` is one) cannot be renamed by
    looking for its name.
    """
    return {*_texts(Engine(boat).snapshot()), *ApplianceState} - {
        appliance.name for appliance in boat.appliances
    }


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for key, part in value.items():
            yield str(key)
            yield from _texts(part)
    elif isinstance(value, (list, tuple)):
        for part in value:
            yield from _texts(part)
