"""Simulated boats whose owner may have set the bank's sign the wrong way round."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import groupby
from typing import Any

from custom_components.galley_loads.core.boat.boat_problems import BoatError
from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.metering.load_assembler import LoadAssembler
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.metering.signs.bank_sign import BankSign
from demo.simulator import SimOptions, random_boat, simulate

type Row = tuple[str, str, float]

OTHER_WAY = {"charging": "discharging", "discharging": "charging"}
OF_THE_BANK = ("sensor.battery_power", "sensor.battery_current")


@dataclass(frozen=True)
class Voyage:
    """Some days aboard a simulated boat, as her sensors told them."""

    description: dict[str, Any]
    rows: tuple[Row, ...]

    def without(self, *sensors: str) -> Voyage | None:
        """Return it with fewer sensors; None if no load is told then."""
        kept = {
            k: v for k, v in self.description["sensors"].items() if k not in sensors
        }
        description = {**self.description, "sensors": kept}
        try:
            parse_boat(description)
        except BoatError:
            return None
        return Voyage(description, self.rows)

    def set_wrong(self) -> Voyage:
        """Return it as of an owner who took charging for discharging."""
        sensors = dict(self.description["sensors"])
        sensors["battery_power_positive"] = OTHER_WAY[sensors["battery_power_positive"]]
        return Voyage({**self.description, "sensors": sensors}, self.rows)

    def turned(self, from_day: float, to_day: float) -> Voyage:
        """Return it with a bank's meter that is turned round for some days."""
        start_s = self.rows[0][2]
        rows = tuple(
            (name, _negated(state), at_s)
            if name in OF_THE_BANK and from_day <= (at_s - start_s) / 86400.0 < to_day
            else (name, state, at_s)
            for name, state, at_s in self.rows
        )
        return Voyage(self.description, rows)

    def assembler(self) -> LoadAssembler:
        """Return the meters of the boat, with nothing heard."""
        return LoadAssembler(parse_boat(self.description))

    def hours(self) -> Iterator[Sequence[LoadSample]]:
        """Yield the samples of each hour."""
        assembler = self.assembler()
        for _, rows in groupby(self.rows, key=lambda row: row[2] // 3600.0):
            yield assembler.feed_all(rows)

    def raised(self) -> list[bool]:
        """Return for each hour whether the bank's sign is called wrong at its end."""
        sign = BankSign(parse_boat(self.description))
        found: list[bool] = []
        for samples in self.hours():
            sign.observe_all(samples)
            found.append(bool(sign.found()))
        return found


def _negated(state: str) -> str:
    return state.removeprefix("-") if state.startswith("-") else f"-{state}"


@cache
def voyage(seed: int, **options: Any) -> Voyage:
    """Return two days aboard, unless `days` says otherwise."""
    sim = SimOptions(**{"days": 2.0, "period_s": 10.0, **options})
    boat = random_boat(seed, sim)
    return Voyage(boat.description, tuple(simulate(boat, seed, sim).rows()))


def still(
    at_s: Iterable[float], look: Callable[[float], dict[str, float | None]]
) -> list[LoadSample]:
    """Return one sample for each moment, as `look` says."""
    return [
        LoadSample(**{"at_s": one_s, "load_w": None, **look(one_s)}) for one_s in at_s
    ]
