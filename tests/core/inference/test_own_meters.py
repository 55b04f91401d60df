"""An appliance with its own meter, read off it."""

from dataclasses import replace
import json

from custom_components.galley_loads.core.boat.boat import Sensor
from custom_components.galley_loads.core.inference.inference import Inference
from custom_components.galley_loads.core.inference.model.base_load import Histogram
from custom_components.galley_loads.core.inference.own_meters import MeteredAppliance
from custom_components.galley_loads.core.metering.load_sample import LoadSample

from .galley import KETTLE, OVEN, START_S, boat, names, runs_of

METERED = replace(OVEN, power_sensor=Sensor("sensor.oven"))


def samples(pieces: list[tuple[float, float]]) -> list[LoadSample]:
    """Return what the load meter and the oven's own meter say, every five seconds."""
    result: list[LoadSample] = []
    at_s = START_S
    for seconds, watts in pieces:
        for _ in range(int(seconds / 5)):
            result.append(LoadSample(at_s, 60.0 + watts, metered_w=(("Oven", watts),)))
            at_s += 5.0
    return result


def reported(pieces: list[tuple[float, float]]) -> list[tuple[float, float]]:
    inference = Inference(boat(METERED, KETTLE))
    found = []
    for sample in samples(pieces):
        inference.observe(sample)
        inference.tentative()
        found += inference.take_settled()
    inference.finish()
    runs = runs_of(found + inference.take_settled())
    assert set(names(runs)) <= {"Oven"}
    return [(run.start_s, run.end_s) for run in runs]


def test_a_thermostats_pause_does_not_end_the_run():
    assert reported([(60, 0), (600, 1480), (120, 0), (60, 1480), (1200, 0)]) == [
        (60, 840)
    ]


def test_a_long_pause_ends_it_where_the_draw_ended():
    baking = [(60, 0), (600, 1480), (1500, 0), (300, 1480), (1500, 0)]
    assert reported(baking) == [(60, 660), (2160, 2460)]


def test_a_meter_that_falls_silent_draws_nothing():
    meter = MeteredAppliance(METERED)
    meter.feed(START_S, 1480.0)
    meter.feed(START_S + 60.0, None)
    assert meter.power_w == 0.0
    twin = MeteredAppliance(METERED)
    twin.restore(json.loads(json.dumps(meter.snapshot())))
    assert twin.snapshot() == meter.snapshot()


def test_what_lies_behind_is_let_go():
    meter = MeteredAppliance(METERED)
    for minute in range(200):
        meter.feed(START_S + 60.0 * minute, 1000.0 + minute)
        meter.drop_before(START_S + 60.0 * minute - 600.0)
    assert len(meter.stretches) < 15


def test_old_days_fade():
    histogram = Histogram()
    histogram.add(500.0, 10.0 * 86400.0)
    for _ in range(12):
        histogram.add(100.0, 86400.0)
        histogram.fade()
    assert histogram.total_s <= 3.0 * 86400.0 + 1.0
    assert histogram.quantile(0.9) < 120.0
