"""A galley's load told to a standby book: boats, and days of levels with noise."""

from dataclasses import replace
from random import Random

from custom_components.galley_loads.core.boat.boat import Appliance, Boat, Circuit
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.standby import StandbyLearner
from tests.core.rigs import galley_boat

START_S = 1_780_000_000.0

HOB = Appliance("Hob", catalogue.INDUCTION_HOB, 1800, circuit="Galley 1")
OVEN = Appliance("Oven", catalogue.OVEN, 1500, circuit="Galley 1")
GALLEY_1 = Circuit("Galley 1", 15, 120, relay="switch.galley_1")


def boat_with(*appliances: Appliance, circuits: tuple[Circuit, ...] = ()) -> Boat:
    """Return a boat with these appliances and circuits."""
    return replace(galley_boat(appliances=appliances), circuits=circuits)


class Day:
    """A boat's load told to a book, two seconds at a time, at a level with noise."""

    def __init__(
        self, book: StandbyLearner, *, noise_w: float = 0.8, quantum_w: float = 1.0
    ) -> None:
        """Begin the day."""
        self.book = book
        self.noise_w = noise_w
        self.quantum_w = quantum_w
        self.at_s = START_S
        self.random = Random(5)

    def measured(self, load_w: float) -> float:
        """Return a load as the meter tells it."""
        value = load_w + self.random.gauss(0, self.noise_w)
        return round(value / self.quantum_w) * self.quantum_w

    def rest(
        self,
        seconds: float,
        load_w: float | None,
        *,
        running: tuple[str, ...] = (),
        open_circuits: tuple[str, ...] = (),
        metered_w: dict[str, float] | None = None,
    ) -> None:
        """Let a level last."""
        until_s = self.at_s + seconds
        while self.at_s < until_s:
            self.book.observe(
                LoadSample(
                    self.at_s,
                    None if load_w is None else self.measured(load_w),
                    metered_w=tuple((metered_w or {}).items()),
                    open_circuits=frozenset(open_circuits),
                ),
                running,
            )
            self.at_s += 2
