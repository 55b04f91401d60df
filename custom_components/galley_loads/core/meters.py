"""What the boat's meters say at present, taken together.

`Meters` holds the sources of one boat and answers what they add up to: the load as load
meters tell it, the bank's power, the parts of which the load is put together where there
is no load meter, and what else stands in a sample.
"""

from typing import Final

from .boat import Boat, Supply
from .fusion import Parts, Rest
from .sources import Role, Source, sources_of

LARGE_W: Final = 300.0
DOUBTED_AFTER_S: Final = 60.0

_OF_THE_BANK: Final = (Role.BATTERY_POWER, Role.BATTERY_CURRENT)


class Meters:
    """The sources of one boat, grouped by what they tell."""

    def __init__(self, boat: Boat) -> None:
        """Start with nothing heard.

        Attributes:
            by_id: every source by its entity id.
            companions: what the load is put together from beside the bank's own meter, in
                a fixed order; empty where there is a load meter.
            has_load: whether there is a load meter.
            by_current: whether the bank is told in amperes and volts.
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
        self.open_circuits: frozenset[str] = frozenset()

    def see_relays(self) -> bool:
        """Look which circuits are open now; return whether that changed."""
        before = self.open_circuits
        self.open_circuits = frozenset(s.owner for s in self._relays if s.value == 1.0)
        return self.open_circuits != before

    def is_clock(self, source: Source) -> bool:
        """Whether the bank's power is told by this source at present."""
        if self._power is None or self._power.value is None:
            return source in (self._power, self._current, self._voltage)
        return source is self._power

    def load_w(self) -> float | None:
        """Return the load as load meters tell it, on the AC side."""
        dc_w = None if self.dc_load is None else self.dc_load.value
        if self.ac_load is None:
            return None if dc_w is None else max(0.0, dc_w) * self._conversion
        ac_w = self.ac_load.value
        if ac_w is None:
            return None
        # What a lost DC meter would have added is not known; the rest still is.
        load_w = max(0.0, ac_w)
        if dc_w is not None:
            load_w += max(0.0, dc_w) * self._conversion
        for meter in self._added:
            load_w += meter.value or 0.0
        return load_w

    def bank(self) -> tuple[float | None, float | None, float | None]:
        """Return the bank's power in W, current in A and voltage in V."""
        voltage_v = None if self._voltage is None else self._voltage.value
        battery_a = None if self._current is None else self._current.value
        battery_w = None if self._power is None else self._power.value
        if battery_w is None and battery_a is not None and voltage_v is not None:
            battery_w = battery_a * voltage_v
        elif battery_a is None and battery_w is not None and voltage_v:
            battery_a = battery_w / voltage_v
        return battery_w, battery_a, voltage_v

    def parts(self) -> Parts:
        """Return the parts of which the load is put together without a load meter."""
        battery_w, battery_a, voltage_v = self.bank()
        bank, factor_v = battery_w, 1.0
        if self.by_current and self._voltage is not None:
            bank = None if battery_w is None else battery_a
            factor_v = voltage_v or 0.0
        solar_w = total_w(self.solar) if self.solar else 0.0
        return Parts(solar_w, total_w(self.other), bank, factor_v)

    def rest(self) -> Rest:
        """Return what stands in a sample beside the load and its parts."""
        _, battery_a, voltage_v = self.bank()
        return Rest(
            voltage_v,
            battery_a,
            None if self._soc is None else self._soc.value,
            tuple((s.owner, s.value) for s in self._of_appliances),
            self.open_circuits,
            None if self._temperature is None else self._temperature.value,
        )

    def lose_what_cannot_be(self, source: Source, at_s: float) -> None:
        """Stop holding a silent meter's load when the bank shows that it has ended.

        What a load takes must come from somewhere. The reverse proves nothing: the bank
        may be feeding DC loads that the meter does not see.
        """
        ac = self.ac_load
        if (
            source.role not in _OF_THE_BANK
            or ac is None
            or ac.value is None
            or ac.value < LARGE_W
            or ac.reported_s is None
            or at_s - ac.reported_s < DOUBTED_AFTER_S
        ):
            return
        battery_w, _, _ = self.bank()
        solar_w, other_w = total_w(self.solar), total_w(self.other)
        if (
            battery_w is None
            or (solar_w is None and (self.solar or self._has_array))
            or (other_w is None and self.other)
        ):
            return
        given_w = (solar_w or 0.0) + (other_w or 0.0) - battery_w
        if given_w * self._conversion < 0.5 * ac.value:
            ac.lose("silent")


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
