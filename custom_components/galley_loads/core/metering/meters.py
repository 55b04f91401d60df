"""What the boat's meters say at present, taken together.

`BoatMeters` holds the sources of one boat and answers what they add up to: the load as load
meters tell it, the bank's power, the parts of which the load is put together where there
is no load meter, and what else stands in a sample. All of it is kept, and only that part
is worked out anew that a source with a new value belongs to: most readings are of the sun
and the bank, several a second.
"""

from collections.abc import Callable
from typing import Final

from ..boat.boat import Boat, Supply
from ..boat.sensor_role import Role
from .fusion import Parts, Rest
from .load_sample import LoadSample
from .source import Source, sources_of

LARGE_W: Final = 300.0
DOUBTED_AFTER_S: Final = 60.0

_OF_THE_BANK: Final = (Role.BATTERY_POWER, Role.BATTERY_CURRENT)

_tuple_of: Final = tuple.__new__


class BoatMeters:
    """The sources of one boat, grouped by what they tell."""

    def __init__(self, boat: Boat) -> None:
        """Start with nothing heard.

        Attributes:
            by_id: every source by its entity id.
            companions: what the load is put together from beside the bank's own meter, in
                a fixed order; empty where there is a load meter.
            has_load: whether there is a load meter.
            by_current: whether the bank is told in amperes and volts.
            open_circuits: the circuits that are open now.
        """
        self.by_id = {source.entity_id: source for source in sources_of(boat)}
        everything = tuple(self.by_id.values())
        self.solar = tuple(s for s in everything if s.role is Role.SOLAR)
        self.other = tuple(s for s in everything if s.role is Role.OTHER_CHARGING)
        self._of_appliances = tuple(s for s in everything if s.role is Role.METER)
        self._relays = tuple(s for s in everything if s.role is Role.RELAY)
        by_role = {source.role: source for source in everything}
        self.ac_load = by_role.get(Role.AC_LOAD)
        self.dc_load = by_role.get(Role.DC_LOAD)
        self._power = by_role.get(Role.BATTERY_POWER)
        self._current = by_role.get(Role.BATTERY_CURRENT)
        self._voltage = by_role.get(Role.BATTERY_VOLTAGE)
        self._soc = by_role.get(Role.SOC)
        self._temperature = by_role.get(Role.TEMPERATURE)
        self._conversion = boat.conversion
        self._has_array = boat.solar is not None

        # Beside an AC meter, DC loads count only where a galley load hangs on DC.
        on_dc = [a.name for a in boat.appliances if a.supply is Supply.DC]
        if self.ac_load is not None and not on_dc:
            self.dc_load = None
        self._added: tuple[Source, ...] = ()
        if self.ac_load is not None and self.dc_load is None:
            self._added = tuple(s for s in self._of_appliances if s.owner in on_dc)

        self.has_load = self.ac_load is not None or self.dc_load is not None
        self.by_current = self._power is None
        self.companions: tuple[Source, ...] = ()
        if not self.has_load:
            self.companions = (*self.solar, *self.other)
            if self.by_current and self._voltage is not None:
                self.companions += (self._voltage,)
        self._load_w: float | None = None
        self._solar_w: float | None = None
        self._other_w: float | None = None
        self._battery_w: float | None = None
        self._battery_a: float | None = None
        self._voltage_v: float | None = None
        self._soc_percent: float | None = None
        self._metered_w: tuple[tuple[str, float | None], ...] = ()
        self._temperature_c: float | None = None
        self.open_circuits: frozenset[str] = frozenset()
        self._renewals = {
            source.entity_id: self._renewal_of(source.role)
            for source in everything
            if source.role is not Role.DC_LOAD or self.dc_load is not None
        }
        self.renew_all()

    def _renewal_of(self, role: Role) -> Callable[[], bool]:
        """Return what works out anew the part that sources of this role belong to."""
        match role:
            case Role.AC_LOAD | Role.DC_LOAD:
                return self._renew_load
            case Role.SOLAR:
                return self._renew_solar
            case Role.OTHER_CHARGING:
                return self._renew_other
            case Role.BATTERY_POWER | Role.BATTERY_CURRENT | Role.BATTERY_VOLTAGE:
                return self._renew_bank
            case Role.SOC:
                return self._renew_soc
            case Role.TEMPERATURE:
                return self._renew_temperature
            case Role.METER:
                return self._renew_metered
            case Role.RELAY:
                return self._renew_relays

    def renew(self, source: Source) -> bool:
        """Take in that a source has a new value; return whether a sample tells of it."""
        renewal = self._renewals.get(source.entity_id)
        return renewal is not None and renewal()

    def renew_all(self) -> None:
        """Take in that any source may have a new value."""
        for renewal in self._renewals.values():
            renewal()

    def _renew_load(self) -> bool:
        self._load_w = self._measured_load_w()
        return True

    def _renew_solar(self) -> bool:
        self._solar_w = total_w(self.solar)
        return True

    def _renew_other(self) -> bool:
        self._other_w = total_w(self.other)
        return True

    def _renew_bank(self) -> bool:
        voltage_v = None if self._voltage is None else self._voltage.value
        battery_a = None if self._current is None else self._current.value
        battery_w = None if self._power is None else self._power.value
        if battery_w is None and battery_a is not None and voltage_v is not None:
            battery_w = battery_a * voltage_v
        elif battery_a is None and battery_w is not None and voltage_v:
            battery_a = battery_w / voltage_v
        self._battery_w, self._battery_a = battery_w, battery_a
        self._voltage_v = voltage_v
        return True

    def _renew_soc(self) -> bool:
        self._soc_percent = None if self._soc is None else self._soc.value
        return True

    def _renew_temperature(self) -> bool:
        thermometer = self._temperature
        self._temperature_c = None if thermometer is None else thermometer.value
        return True

    def _renew_metered(self) -> bool:
        self._metered_w = tuple((s.owner, s.value) for s in self._of_appliances)
        return self._renew_load()

    def _renew_relays(self) -> bool:
        before = self.open_circuits
        self.open_circuits = frozenset(s.owner for s in self._relays if s.value == 1.0)
        return self.open_circuits != before

    def is_clock(self, source: Source) -> bool:
        """Whether the bank's power is told by this source at present."""
        if self._power is None or self._power.value is None:
            return source in (self._power, self._current, self._voltage)
        return source is self._power

    def _measured_load_w(self) -> float | None:
        """Return the load as load meters tell it, on the AC side."""
        dc_w = None if self.dc_load is None else self.dc_load.value
        if self.ac_load is None:
            if dc_w is None or self._is_out_of_order(self.dc_load):
                return None
            return max(0.0, dc_w) * self._conversion
        ac_w = self.ac_load.value
        if ac_w is None or self._is_out_of_order(self.ac_load):
            return None
        # What a lost DC meter would have added is not known; the rest still is.
        load_w = max(0.0, ac_w)
        if dc_w is not None:
            load_w += max(0.0, dc_w) * self._conversion
        for meter in self._added:
            load_w += meter.value or 0.0
        return load_w

    @staticmethod
    def _is_out_of_order(meter: Source | None) -> bool:
        """Whether a load meter reads what no load can be: then the load is not known.

        One that is mounted backwards always reads so; until it is turned it reads nothing.
        """
        return (
            meter is not None
            and meter.is_far_below_zero
            and meter.direction is not None
            and meter.direction.counts_right
        )

    def changed(self, source: Source, at_s: float) -> LoadSample | None:
        """Take in a new value of a boat with a load meter; return the sample it gives.

        It is None where a sample does not tell of that source.
        """
        renewal = self._renewals.get(source.entity_id)
        if renewal is None or not renewal():
            return None
        if self.ac_load is not None and source.role in _OF_THE_BANK:
            self._lose_what_cannot_be(self.ac_load, at_s)
        return self.sample(at_s)

    def sample(self, at_s: float) -> LoadSample:
        """Return the sample of a boat with a load meter, from `at_s` on."""
        # Four times as fast as by the constructor; this is made of every reading.
        return _tuple_of(
            LoadSample,
            (
                at_s,
                self._load_w,
                self._solar_w,
                self._other_w,
                self._battery_w,
                self._battery_a,
                self._voltage_v,
                self._soc_percent,
                self._metered_w,
                self.open_circuits,
                self._temperature_c,
            ),
        )

    def parts(self) -> Parts:
        """Return the parts of which the load is put together without a load meter."""
        bank, factor_v = self._battery_w, 1.0
        if self.by_current and self._voltage is not None:
            bank = None if bank is None else self._battery_a
            factor_v = self._voltage_v or 0.0
        solar_w = self._solar_w if self.solar else 0.0
        return Parts(solar_w, self._other_w, bank, factor_v)

    def rest(self) -> Rest:
        """Return what stands in a sample beside the load and its parts."""
        return Rest(
            self._voltage_v,
            self._battery_a,
            self._soc_percent,
            self._metered_w,
            self.open_circuits,
            self._temperature_c,
        )

    def _lose_what_cannot_be(self, ac: Source, at_s: float) -> None:
        """Stop holding a silent meter's load when the bank shows that it has ended.

        What a load takes must come from somewhere. The reverse proves nothing: the bank
        may be feeding DC loads that the meter does not see.
        """
        if (
            ac.value is None
            or ac.value < LARGE_W
            or ac.reported_s is None
            or at_s - ac.reported_s < DOUBTED_AFTER_S
        ):
            return
        battery_w, solar_w, other_w = self._battery_w, self._solar_w, self._other_w
        if (
            battery_w is None
            or (solar_w is None and (self.solar or self._has_array))
            or (other_w is None and self.other)
        ):
            return
        given_w = (solar_w or 0.0) + (other_w or 0.0) - battery_w
        if given_w * self._conversion < 0.5 * ac.value:
            ac.lose("silent")
            self._renew_load()


def total_w(sources: tuple[Source, ...]) -> float | None:
    """Return the sum of the sources; None if one is not known, or there is none."""
    if not sources:
        return None
    total = 0.0
    for source in sources:
        if source.value is None:
            return None
        total += source.value
    return total
