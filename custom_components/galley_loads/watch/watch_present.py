"""The present of one boat, put together for the rules of cutting and of the alerts."""

from collections.abc import Callable
import time

from homeassistant.const import STATE_OFF, STATE_ON, STATE_UNAVAILABLE, STATE_UNKNOWN
from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback

from ..boat.claims import relays_of_others
from ..coordinator import GalleyCoordinator
from ..core.boat.boat import Boat, Sensor
from ..core.cutting import CutFacts
from ..core.cutting.cut_checks import SAME_TIME_S
from ..core.engine_view import EngineView
from ..core.live.live_view import LiveView
from ..state.listeners import Listeners


def load_sensor(boat: Boat) -> Sensor | None:
    """Return the sensor without which the boat's load is not known.

    On a boat whose load is put together of sun and bank it is the bank's: an array at
    night has nothing to report.
    """
    sensors = boat.sensors
    return (
        sensors.ac_load_power
        or sensors.dc_load_power
        or sensors.battery_power
        or sensors.battery_current
    )


class WatchPresent:
    """What the engine knows and what the platform's states say, at one time."""

    def __init__(self, hass: HomeAssistant, coordinator: GalleyCoordinator) -> None:
        """Start with nothing seen."""
        self._hass = hass
        self._coordinator = coordinator
        self._boat = coordinator.boat
        self._seen: EngineView | None = None
        self._listeners = Listeners[[]]()

    @property
    def view(self) -> LiveView | None:
        """The newest view of the engine, None before there is one."""
        return None if self._seen is None else self._seen.live

    def moment(self) -> CutFacts | None:
        """Return the present for the rules of cutting, None before anything is known."""
        seen = self._seen
        if seen is None or seen.sample is None or seen.live is None:
            return None
        now_s = time.time()
        meters = {
            appliance.name: appliance.power_sensor
            for appliance in self._boat.appliances
            if appliance.power_sensor is not None
        }
        elsewhere = relays_of_others(self._hass, self._coordinator.config_entry)
        return CutFacts(
            now_s,
            seen.sample,
            seen.live,
            self._load_age_s(now_s),
            {
                circuit.name: self._is_closed(circuit.relay)
                for circuit in self._boat.circuits
                if circuit.relay is not None
            },
            {name: self._report_age_s(meter, now_s) for name, meter in meters.items()},
            {
                name: None if figure is None else figure.power_w
                for name, figure in seen.circuit_standby.items()
            },
            seen.load_floor_w,
            seen.likely_standby_w,
            frozenset(
                circuit.name
                for circuit in self._boat.circuits
                if circuit.relay in elsewhere
            ),
        )

    def settled_moment(self) -> CutFacts | None:
        """Return the present once it is explained as well as it will be.

        Before the past is read it may be explained otherwise yet.
        """
        if self._coordinator.catching_up or self._coordinator.provisional:
            return None
        return self.moment()

    @callback
    def async_listen(self, listener: Callable[[], None]) -> CALLBACK_TYPE:
        """Call `listener` when the present is to be looked at again."""
        return self._listeners.async_add(listener)

    @callback
    def async_look_again(self) -> None:
        """Have the present looked at again: somebody has decided something."""
        self._listeners.async_notify()

    def see(self) -> None:
        """Take over what the engine knew at the end of its last turn."""
        if self._coordinator.data is not None:
            self._seen = self._coordinator.known

    def _is_closed(self, relay: str) -> bool | None:
        state = self._hass.states.get(relay)
        if state is None:
            return None
        return {STATE_ON: True, STATE_OFF: False}.get(state.state)

    def _load_age_s(self, now_s: float) -> float | None:
        sensor = load_sensor(self._boat)
        return None if sensor is None else self._report_age_s(sensor, now_s)

    def _report_age_s(self, sensor: Sensor, now_s: float) -> float | None:
        state = self._hass.states.get(sensor.entity_id)
        if state is None or state.state in (STATE_UNAVAILABLE, STATE_UNKNOWN):
            return None
        age_s = now_s - state.last_reported.timestamp()
        # What was told before the clock was set back is of no known age.
        return None if age_s < -SAME_TIME_S else max(0.0, age_s)
