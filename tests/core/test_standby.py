"""What a boat's appliances draw while nobody cooks, and how sure of it one may be."""

import json
from random import Random
from zoneinfo import ZoneInfo

from hypothesis import given, settings, strategies as st
import pytest

from custom_components.galley_loads.core.boat import (
    Appliance,
    Bank,
    Boat,
    Circuit,
    Inverter,
    Sensor,
    Sensors,
)
from custom_components.galley_loads.core.kinds import Kind
from custom_components.galley_loads.core.load import LoadSample
from custom_components.galley_loads.core.standby import (
    StandbyBook,
    StandbySource,
    standby_cost,
)
from custom_components.galley_loads.core.standby.resolution import MeterResolution

START_S = 1_780_000_000.0


def boat_with(*appliances: Appliance, circuits: tuple[Circuit, ...] = ()) -> Boat:
    return Boat(
        name="Tern",
        latitude=38.53,
        longitude=-28.62,
        time_zone=ZoneInfo("Atlantic/Azores"),
        sensors=Sensors(ac_load_power=Sensor("sensor.load")),
        bank=Bank(capacity_ah=560, nominal_voltage_v=12.8, reserve_soc=35),
        inverter=Inverter(continuous_power_w=2500, efficiency=0.9),
        appliances=appliances,
        circuits=circuits,
    )


HOB = Appliance("Hob", Kind.INDUCTION_HOB, 1800, circuit="Galley 1")
OVEN = Appliance("Oven", Kind.OVEN, 1500, circuit="Galley 1")
GALLEY_1 = Circuit("Galley 1", 15, 120, relay="switch.galley_1")


class Day:
    """A boat's load told to a book, two seconds at a time, at a level with noise."""

    def __init__(
        self, book: StandbyBook, *, noise_w: float = 0.8, quantum_w: float = 1.0
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


def test_ten_small_loads_cost_what_the_published_example_says() -> None:
    # Worked example of the check values: ten loads of 2 W for 24 h are 480 Wh, and
    # 41.67 Ah at 12.8 V through an inverter of 0.9.
    cost = standby_cost(boat_with(), power_w=10 * 2.0, hours=24)
    assert cost.energy_wh == pytest.approx(480.0)
    assert cost.bank_ah == pytest.approx(41.67, abs=0.005)
    assert cost.bank_share == pytest.approx(41.67 / 560, abs=1e-4)


def test_half_a_watt_all_year_is_what_the_published_example_says() -> None:
    # 0.5 W, the limit of EU 2023/826 for standby, over a year: 4.38 kWh.
    assert standby_cost(boat_with(), 0.5, 365 * 24).energy_wh == pytest.approx(4380.0)


@pytest.mark.parametrize(("power_w", "hours"), [(-1.0, 2.0), (1.0, -2.0)])
def test_a_negative_power_or_span_is_refused(power_w: float, hours: float) -> None:
    with pytest.raises(ValueError, match="neither may be negative"):
        standby_cost(boat_with(), power_w, hours)


def test_a_stated_standby_is_told_until_something_better_is_known() -> None:
    stated = Appliance("Hob", Kind.INDUCTION_HOB, 1800, standby_power_w=20)
    book = StandbyBook(boat_with(stated))
    figure = book.figure("Hob")
    assert figure is not None
    assert (figure.power_w, figure.source) == (20, StandbySource.STATED)
    assert book.standby_w("Hob", START_S) == 20


def test_an_unknown_standby_is_not_invented() -> None:
    book = StandbyBook(boat_with(HOB, circuits=(GALLEY_1,)))
    Day(book).rest(3600, 120)
    assert book.standby_w("Hob") is None
    assert book.circuit_standby_w("Galley 1") is None


@pytest.mark.parametrize("true_w", [9.0, 22.0, 41.0])
def test_opening_the_relay_shows_what_the_circuit_drew(true_w: float) -> None:
    book = StandbyBook(boat_with(HOB, circuits=(GALLEY_1,)))
    day = Day(book)
    for _ in range(3):
        day.rest(600, 120 + true_w)
        day.rest(600, 120, open_circuits=("Galley 1",))
    assert book.circuit_standby_w("Galley 1") == pytest.approx(true_w, abs=1.5)
    figure = book.figure("Hob")
    assert figure is not None
    assert figure.source is StandbySource.RELAY
    assert figure.power_w == pytest.approx(true_w, abs=1.5)


def test_a_fridge_that_starts_with_the_relay_spoils_only_one_measurement() -> None:
    book = StandbyBook(boat_with(HOB, circuits=(GALLEY_1,)))
    day = Day(book)
    day.rest(600, 142)
    day.rest(4, 120, open_circuits=("Galley 1",))
    day.rest(600, 120 - 55, open_circuits=("Galley 1",))  # a fridge stopped as well
    for _ in range(3):
        day.rest(600, 142)
        day.rest(600, 120, open_circuits=("Galley 1",))
    assert book.circuit_standby_w("Galley 1") == pytest.approx(22, abs=2)


@pytest.mark.parametrize("period_s", [10, 30, 60])
def test_a_slow_meter_is_waited_for(period_s: int) -> None:
    book = StandbyBook(boat_with(HOB, circuits=(GALLEY_1,)))
    for turn in range(40):
        load_w = 142.0 if turn % 20 <= 10 else 120.0  # falls a period after the relay
        opened = turn % 20 >= 10
        at_s = START_S + turn * period_s
        circuits = frozenset({"Galley 1"} if opened else ())
        book.observe(LoadSample(at_s, load_w, open_circuits=circuits), ())
    assert book.circuit_standby_w("Galley 1") == pytest.approx(22, abs=0.5)


def test_two_appliances_on_a_circuit_are_not_told_apart_by_force() -> None:
    book = StandbyBook(boat_with(HOB, OVEN, circuits=(GALLEY_1,)))
    day = Day(book)
    day.rest(600, 150)
    day.rest(600, 120, open_circuits=("Galley 1",))
    assert book.circuit_standby_w("Galley 1") == pytest.approx(30, abs=1.5)
    assert book.standby_w("Hob") is None
    assert book.standby_w("Oven") is None


def test_the_owners_figures_say_how_two_appliances_share_a_circuit() -> None:
    hob = Appliance("Hob", Kind.INDUCTION_HOB, 1800, 20, circuit="Galley 1")
    oven = Appliance("Oven", Kind.OVEN, 1500, 5, circuit="Galley 1")
    book = StandbyBook(boat_with(hob, oven, circuits=(GALLEY_1,)))
    day = Day(book)
    day.rest(600, 150)
    day.rest(600, 120, open_circuits=("Galley 1",))
    assert book.standby_w("Hob") == pytest.approx(24, abs=1.5)
    assert book.standby_w("Oven") == pytest.approx(6, abs=1)


def test_a_metered_neighbour_leaves_the_rest_to_the_other() -> None:
    oven = Appliance(
        "Oven", Kind.OVEN, 1500, power_sensor=Sensor("sensor.oven"), circuit="Galley 1"
    )
    book = StandbyBook(boat_with(HOB, oven, circuits=(GALLEY_1,)))
    day = Day(book)
    day.rest(1800, 150, metered_w={"Oven": 6.0})
    day.rest(600, 120, open_circuits=("Galley 1",), metered_w={"Oven": 0.0})
    assert book.standby_w("Oven") == pytest.approx(6.0, abs=0.2)
    assert book.standby_w("Hob") == pytest.approx(24, abs=1.5)


def test_a_relay_that_moves_while_somebody_cooks_teaches_nothing() -> None:
    book = StandbyBook(boat_with(HOB, circuits=(GALLEY_1,)))
    day = Day(book)
    day.rest(600, 1900, running=("Hob",))
    day.rest(600, 120, open_circuits=("Galley 1",))
    assert book.circuit_standby_w("Galley 1") is None


def test_a_gap_across_the_relays_move_teaches_nothing() -> None:
    book = StandbyBook(boat_with(HOB, circuits=(GALLEY_1,)))
    day = Day(book)
    day.rest(600, 142)
    day.rest(10, 120, open_circuits=("Galley 1",))
    day.rest(10, None, open_circuits=("Galley 1",))
    day.rest(600, 120, open_circuits=("Galley 1",))
    assert book.circuit_standby_w("Galley 1") is None


@pytest.mark.parametrize(("quantum_w", "noise_w"), [(10.0, 1.0), (1.0, 12.0)])
def test_what_the_meter_cannot_resolve_is_not_quoted(
    quantum_w: float, noise_w: float
) -> None:
    book = StandbyBook(boat_with(HOB, circuits=(GALLEY_1,)))
    day = Day(book, noise_w=noise_w, quantum_w=quantum_w)
    for _ in range(4):
        day.rest(600, 125.5)
        day.rest(600, 120, open_circuits=("Galley 1",))
    assert book.load_floor_w >= 9
    assert book.circuit_standby_w("Galley 1") is None
    assert book.standby_w("Hob") is None


def test_an_own_meter_tells_standby_and_ignores_the_unplugged_hours() -> None:
    kettle = Appliance(
        "Kettle", Kind.KETTLE, 2000, power_sensor=Sensor("sensor.kettle")
    )
    book = StandbyBook(boat_with(kettle))
    day = Day(book)
    day.rest(1800, 120, metered_w={"Kettle": 0.0})
    day.rest(120, 2100, metered_w={"Kettle": 2000.0}, running=("Kettle",))
    for _ in range(20):
        day.rest(120, 120, metered_w={"Kettle": 3.1})
        day.rest(60, 120, metered_w={"Kettle": 3.3})
    assert book.standby_w("Kettle") == pytest.approx(3.2, abs=0.15)
    assert book.present_w("Kettle", day.at_s, ()) == pytest.approx(3.3)
    assert book.present_w("Kettle", day.at_s, ("Kettle",)) == 0.0


def test_an_own_meter_that_counts_in_tens_quotes_nothing_below_ten() -> None:
    kettle = Appliance(
        "Kettle", Kind.KETTLE, 2000, power_sensor=Sensor("sensor.kettle")
    )
    book = StandbyBook(boat_with(kettle))
    day = Day(book)
    for _ in range(60):
        day.rest(40, 120, metered_w={"Kettle": 0.0})
        day.rest(20, 120, metered_w={"Kettle": 10.0})
    figure = book.figure("Kettle")
    assert figure is None or figure.power_w >= 10


def test_an_open_circuit_draws_no_standby() -> None:
    hob = Appliance("Hob", Kind.INDUCTION_HOB, 1800, 20, circuit="Galley 1")
    book = StandbyBook(boat_with(hob, circuits=(GALLEY_1,)))
    day = Day(book)
    day.rest(60, 140)
    assert book.present_w("Hob", day.at_s, ()) == 20
    day.rest(60, 120, open_circuits=("Galley 1",))
    assert book.present_w("Hob", day.at_s, ()) == 0


def cook_days(day: Day, days: int, standby_w: float, fridge_w: float = 62.0) -> None:
    """Switch the hob on at the wall, cook, and switch it off; a fridge cycles on its own."""
    fridge = Random(11)
    fridge_on, change_s = False, day.at_s

    def with_fridge(
        seconds: float, load_w: float, running: tuple[str, ...] = ()
    ) -> None:
        nonlocal fridge_on, change_s
        until_s = day.at_s + seconds
        while day.at_s < until_s:
            if day.at_s >= change_s:
                fridge_on = not fridge_on
                change_s = day.at_s + fridge.uniform(500, 1500)
            span_s = min(until_s, change_s) - day.at_s
            day.rest(span_s, load_w + (fridge_w if fridge_on else 0.0), running=running)

    for _ in range(days):
        for _ in range(2):
            with_fridge(4 * 3600, 90)
            with_fridge(150, 90 + standby_w)
            with_fridge(1500, 90 + standby_w + 1300, running=("Hob",))
            with_fridge(400, 90 + standby_w)
        with_fridge(6 * 3600, 90)


def test_steps_at_switching_on_and_off_tell_a_hobs_standby() -> None:
    book = StandbyBook(boat_with(HOB))
    day = Day(book)
    cook_days(day, days=5, standby_w=21)
    figure = book.figure("Hob")
    assert figure is not None
    assert figure.source is StandbySource.SWITCHING
    assert figure.power_w == pytest.approx(21, abs=2)
    # Off at the wall since the last meal: nothing is drawn now.
    assert book.present_w("Hob", day.at_s, ()) == 0
    day.rest(300, 90 + 21)
    assert book.present_w("Hob", day.at_s, ()) == pytest.approx(21, abs=2)


def test_a_fridge_alone_is_never_taken_for_standby() -> None:
    book = StandbyBook(boat_with(HOB))
    day = Day(book)
    cook_days(day, days=6, standby_w=0)
    assert book.figure("Hob") is None


def test_a_metered_appliance_is_still_known_after_a_restart() -> None:
    kettle = Appliance(
        "Kettle", Kind.KETTLE, 2000, power_sensor=Sensor("sensor.kettle")
    )
    book = StandbyBook(boat_with(kettle))
    day = Day(book)
    day.rest(30 * 60, 120, metered_w={"Kettle": 3.0})
    again = StandbyBook(boat_with(kettle))
    again.restore(json.loads(json.dumps(book.snapshot())))
    assert again.standby_w("Kettle") == book.standby_w("Kettle") == 3.0
    assert again.snapshot() == book.snapshot()


def test_a_meter_that_is_lost_shows_no_present_standby_of_its_own() -> None:
    kettle = Appliance(
        "Kettle", Kind.KETTLE, 2000, power_sensor=Sensor("sensor.kettle")
    )
    book = StandbyBook(boat_with(kettle))
    day = Day(book)
    day.rest(30 * 60, 120, metered_w={"Kettle": 3.0})
    book.observe(LoadSample(day.at_s, 120.0, metered_w=(("Kettle", None),)), ())
    assert book.present_w("Kettle", day.at_s, ()) == 3.0


def test_a_circuits_standby_is_the_sum_of_what_is_known_on_it() -> None:
    hob = Appliance("Hob", Kind.INDUCTION_HOB, 1800, 20, circuit="Galley 1")
    oven = Appliance("Oven", Kind.OVEN, 1500, 5, circuit="Galley 1")
    book = StandbyBook(boat_with(hob, oven, circuits=(GALLEY_1,)))
    figure = book.circuit_figure("Galley 1")
    assert figure is not None
    assert (figure.power_w, figure.source) == (25, StandbySource.STATED)


def test_what_a_circuit_likely_draws_goes_by_kind_until_it_is_measured() -> None:
    kettle = Appliance("Kettle", Kind.KETTLE, 2000, circuit="Galley 2")
    galley_2 = Circuit("Galley 2", 16, 230, relay="switch.galley_2")
    book = StandbyBook(boat_with(HOB, kettle, circuits=(GALLEY_1, galley_2)))
    assert book.likely_w("Galley 1") == Kind.INDUCTION_HOB.default_standby_w > 3
    assert book.likely_w("Galley 2") == 0
    day = Day(book)
    for _ in range(2):
        day.rest(600, 120)
        day.rest(600, 119.5, open_circuits=("Galley 1",))
    assert book.circuit_standby_w("Galley 1") is None
    assert book.likely_w("Galley 1") < 3
    for _ in range(7):
        day.rest(600, 140)
        day.rest(600, 120, open_circuits=("Galley 1",))
    assert book.likely_w("Galley 1") == book.circuit_standby_w("Galley 1")


def test_a_book_restored_halfway_tells_the_same() -> None:
    boat = boat_with(HOB, circuits=(GALLEY_1,))
    whole, first = StandbyBook(boat), StandbyBook(boat)
    one, two = Day(whole), Day(first)
    for day in (one, two):
        day.rest(600, 142)
        day.rest(12, 120, open_circuits=("Galley 1",))
    second = StandbyBook(boat)
    second.restore(json.loads(json.dumps(first.snapshot())))
    two.book = second
    for day in (one, two):
        day.rest(600, 120, open_circuits=("Galley 1",))
        day.rest(600, 142)
    assert second.snapshot() == whole.snapshot()
    assert second.circuit_standby_w("Galley 1") == whole.circuit_standby_w("Galley 1")


def test_a_restart_while_a_metered_kettle_boils_changes_nothing() -> None:
    kettle = Appliance(
        "Kettle", Kind.KETTLE, 2000, power_sensor=Sensor("sensor.kettle")
    )
    boat = boat_with(HOB, kettle)
    whole, first = StandbyBook(boat), StandbyBook(boat)
    one, two = Day(whole), Day(first)
    for day in (one, two):
        day.rest(600, 120, metered_w={"Kettle": 0.0})
        day.rest(60, 2100, running=("Kettle",), metered_w={"Kettle": 1980.0})
    second = StandbyBook(boat)
    second.restore(json.loads(json.dumps(first.snapshot())))
    two.book = second
    for day in (one, two):
        day.rest(60, 2100, running=("Kettle",), metered_w={"Kettle": 1980.0})
        day.rest(1800, 120, metered_w={"Kettle": 0.0})
    assert second.snapshot() == whole.snapshot()
    assert not whole.snapshot()["switches"]["near"]


def test_a_book_restored_into_a_boat_without_the_appliance_forgets_it() -> None:
    book = StandbyBook(boat_with(HOB, circuits=(GALLEY_1,)))
    day = Day(book)
    day.rest(600, 142)
    day.rest(600, 120, open_circuits=("Galley 1",))
    plain = StandbyBook(boat_with(Appliance("Kettle", Kind.KETTLE, 2000)))
    plain.restore(json.loads(json.dumps(book.snapshot())))
    assert plain.standby_w("Kettle") is None
    assert plain.circuit_standby_w("Galley 1") is None


def test_a_steady_meter_has_no_noise_and_a_noisy_one_has_its_own() -> None:
    steady, noisy = MeterResolution(), MeterResolution()
    random = Random(3)
    for _ in range(400):
        steady.observe(50.0)
        noisy.observe(50.0 + random.gauss(0, 5))
    assert steady.floor_w == 0
    assert noisy.noise_w == pytest.approx(5, rel=0.35)


@settings(max_examples=60, deadline=None)
@given(
    quantum_w=st.sampled_from([1.0, 2.0, 5.0, 10.0]),
    noise_w=st.floats(0.0, 8.0),
    true_w=st.floats(0.0, 40.0),
)
def test_nothing_learnt_is_ever_quoted_below_the_floor(
    quantum_w: float, noise_w: float, true_w: float
) -> None:
    book = StandbyBook(boat_with(HOB, circuits=(GALLEY_1,)))
    day = Day(book, noise_w=noise_w, quantum_w=quantum_w)
    for _ in range(2):
        day.rest(120, 120 + true_w)
        day.rest(120, 120, open_circuits=("Galley 1",))
    figure = book.circuit_figure("Galley 1")
    assert figure is None or figure.power_w >= max(figure.floor_w, 0)


@settings(max_examples=30, deadline=None)
@given(
    loads=st.lists(st.one_of(st.none(), st.floats(0, 4000)), min_size=1, max_size=300),
    seed=st.integers(0, 99),
)
def test_the_books_memory_is_bounded_and_writable(
    loads: list[float | None], seed: int
) -> None:
    random = Random(seed)
    book = StandbyBook(boat_with(HOB, OVEN, circuits=(GALLEY_1,)))
    for index, load_w in enumerate(loads * 10):
        opened = frozenset({"Galley 1"}) if random.random() < 0.3 else frozenset[str]()
        running = [name for name in ("Hob", "Oven") if random.random() < 0.2]
        book.observe(
            LoadSample(START_S + 20 * index, load_w, open_circuits=opened), running
        )
    assert len(json.dumps(book.snapshot())) < 20_000
