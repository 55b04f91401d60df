"""Any boat that can be described."""

from zoneinfo import ZoneInfo

from hypothesis import strategies as st

from custom_components.galley_loads.core.boat.boat import (
    Appliance,
    Bank,
    Boat,
    Chemistry,
    Circuit,
    CutRule,
    Dish,
    Inverter,
    Sensor,
    Sensors,
    Solar,
    Supply,
)
from custom_components.galley_loads.core.kinds.catalogue import KINDS

ZONES = st.sampled_from(["Atlantic/Azores", "UTC", "Pacific/Auckland"]).map(ZoneInfo)
OBJECT_IDS = st.text("abcdefghij_0123456789", min_size=1, max_size=12)
NAMES = (
    st.text(min_size=1, max_size=20)
    .map(str.strip)
    .filter(lambda name: bool(name) and name.isprintable())
)


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers between two limits, whole ones as often as others."""
    return st.one_of(
        st.floats(low, high, exclude_min=True, exclude_max=True),
        st.integers(int(low) + 1, int(high) - 1).map(float)
        if high - low > 3
        else st.nothing(),
    )


@st.composite
def boats(draw: st.DrawFn) -> Boat:
    """Draw a boat whose description has nothing wrong."""
    taken: set[str] = set()

    def entity(domain: str = "sensor") -> str:
        name = draw(OBJECT_IDS.filter(lambda text: f"{domain}.{text}" not in taken))
        taken.add(f"{domain}.{name}")
        return f"{domain}.{name}"

    def sensor(*scales: float) -> Sensor:
        return Sensor(entity(), draw(st.sampled_from([1.0, *scales])))

    def perhaps[T](make: object) -> T | None:
        return make() if draw(st.booleans()) else None  # type: ignore[operator,no-any-return]

    def power() -> Sensor:
        return sensor(1000.0, 0.001, -1.0, -1000.0)

    def both_ways() -> Sensor:
        return sensor(1000.0, 0.001)

    voltage = perhaps(lambda: sensor(0.001))
    sensors = Sensors(
        ac_load_power=power(),
        dc_load_power=perhaps(power),
        solar_power=tuple(power() for _ in range(draw(st.integers(0, 2)))),
        other_charging_power=tuple(power() for _ in range(draw(st.integers(0, 2)))),
        battery_power=perhaps(both_ways),
        battery_current=None if voltage is None else perhaps(lambda: sensor(0.001)),
        battery_voltage=voltage,
        battery_soc=perhaps(sensor),
        battery_temperature=perhaps(sensor),
        position=perhaps(lambda: entity("device_tracker")),
        battery_sign=draw(st.sampled_from([1, -1])),
    )
    names = st.lists(NAMES, unique_by=str.casefold, max_size=3)
    circuits = tuple(
        Circuit(
            name,
            draw(numbers(0, 1000)),
            draw(numbers(5, 1000)),
            relay=perhaps(lambda: entity("switch")),
            idle_minutes=draw(numbers(1, 1440)),
            cut=draw(st.sampled_from(CutRule)),
            other_loads=draw(st.booleans()),
        )
        for name in draw(names)
    )
    appliances = tuple(
        Appliance(
            name,
            draw(st.sampled_from(list(KINDS))),
            draw(numbers(5, 50000)),
            standby_power_w=draw(st.none() | numbers(0, 1000)),
            power_sensor=perhaps(power),
            supply=draw(st.sampled_from(Supply)),
            circuit=draw(st.sampled_from([None, *(c.name for c in circuits)])),
        )
        for name in draw(names)
    )
    dishes = tuple(
        Dish(
            name,
            {a.name: draw(numbers(0, 1440)) for a in appliances},
            draw(st.none() | numbers(0, 1e5)),
            draw(st.none() | st.times().map(lambda at: at.replace(microsecond=0))),
        )
        for name in draw(names)
    )
    return Boat(
        draw(NAMES),
        draw(st.floats(-90, 90)),
        draw(st.floats(-180, 180)),
        draw(ZONES),
        sensors,
        Bank(
            draw(numbers(0, 1e5)),
            draw(numbers(5, 1000)),
            draw(st.floats(0, 100, exclude_max=True)),
            draw(st.sampled_from(Chemistry)),
            draw(st.none() | numbers(0, 1e4)),
            draw(st.none() | st.floats(0.3, 1)),
            draw(st.none() | st.floats(1, 2)),
            draw(numbers(1, 200)),
        ),
        draw(
            st.none()
            | st.builds(
                Inverter,
                numbers(50, 1e6),
                st.none() | numbers(0, 1000),
                st.none() | st.floats(0.3, 1),
            )
        ),
        draw(
            st.none()
            | st.builds(
                Solar,
                numbers(5, 1e6),
                st.lists(OBJECT_IDS.map("sensor.{}".format), max_size=2).map(tuple),
            )
        ),
        appliances,
        circuits,
        dishes,
        draw(numbers(1, 720)),
    )
