"""What a boat's sensors say while dinner is cooked: plain data, free of the platform."""

from collections.abc import Iterable, Iterator

from custom_components.galley_loads.core.metering.reading import Reading

LOAD, SOLAR = "sensor.inverter_output", "sensor.array_power"
CURRENT, VOLTAGE = "sensor.bank_current", "sensor.bank_voltage"
SOC, RELAY = "sensor.bank_soc", "switch.galley_breaker"

HOUR = 3600.0
BACKGROUND_W = 120.0
EFFICIENCY = 0.92
VOLTAGE_V = 13.0

# Seconds after the start, and what the inverter delivers from then on: a kettle for four
# minutes, then an oven that heats for ten minutes and cycles for half an hour.
DINNER: tuple[tuple[float, float], ...] = (
    (600, 1620.0),
    (840, 120.0),
    (960, 2120.0),
    (1560, 120.0),
    *(
        step
        for cycle in range(10)
        for step in ((1680.0 + 180 * cycle, 2120.0), (1740.0 + 180 * cycle, 120.0))
    ),
)

# What a kettle of 1500 W takes in 4 minutes, and an oven of 2000 W in 20.
DINNER_WH = 1500 * 4 / 60 + 2000 * 20 / 60


def dinner(start_s: float, rest_s: float = 2 * HOUR) -> Iterator[Reading]:
    """Yield what the sensors say during a dinner and a while after it."""
    yield Reading(SOLAR, "0", start_s)
    yield Reading(SOC, "80", start_s)
    yield Reading(RELAY, "on", start_s)
    yield from _load(BACKGROUND_W, start_s)
    changes = list(DINNER)
    for at_s in range(0, int(DINNER[-1][0] + rest_s), 10):
        while changes and changes[0][0] <= at_s:
            yield from _load(changes.pop(0)[1], start_s + at_s)
        # Something aboard always reports.
        volts = VOLTAGE_V + at_s // 10 % 2 / 100
        yield Reading(VOLTAGE, f"{volts:.2f}", start_s + at_s + 0.5)


def _load(load_w: float, at_s: float) -> Iterator[Reading]:
    amps = -load_w / EFFICIENCY / VOLTAGE_V
    yield Reading(CURRENT, f"{amps:.2f}", at_s)
    yield Reading(LOAD, f"{load_w:.0f}", at_s)


def changes(readings: Iterable[Reading]) -> list[Reading]:
    """Return the readings that the recorder keeps: those that tell something new."""
    last: dict[str, str] = {}
    kept: list[Reading] = []
    for reading in readings:
        if last.get(reading.entity_id) != reading.state:
            last[reading.entity_id] = reading.state
            kept.append(reading)
    return kept
