"""Where the energy went, and where it came from."""

from dataclasses import replace
from itertools import pairwise

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.boat.boat import Appliance, Sensor
from custom_components.galley_loads.core.inference.model.activity import (
    Activity,
    Phase,
    Segment,
)
from custom_components.galley_loads.core.ledger.account import Flow, account
from custom_components.galley_loads.core.ledger.cells import Cells
from custom_components.galley_loads.core.ledger.totals import Totals
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from tests.core.boats import HEATER, HOB, KETTLE, OVEN, small_boat

METERED_KETTLE = replace(KETTLE, power_sensor=Sensor("sensor.kettle_plug"))


def _cells(*samples: LoadSample) -> Cells:
    cells = Cells()
    for sample in samples:
        cells.add(sample)
    return cells


def _account(segment: Segment, *samples: LoadSample, **changes: object) -> Flow:
    boat = small_boat(**changes)
    parts = _cells(*samples).between(segment.start_s, segment.end_s)
    return account(
        boat, segment, parts, lambda name: boat.appliance(name).standby_power_w
    )


def _cooking(start_s: float, end_s: float, power_w: float, **more: float) -> Segment:
    hob = Activity("Hob", start_s, power_w, Phase.HEATING, 1.0)
    return Segment(start_s, end_s, (hob,), **more)


def _total(flow: Flow) -> float:
    runs = sum(share.energy_wh for share in flow.runs.values())
    standby = sum(flow.standby_wh.values())
    return runs + standby + flow.background_wh + flow.unassigned_wh


def test_the_meal_takes_what_the_bank_gave_conversion_loss_included() -> None:
    """300 Wh at 0.90 are 26.0417 Ah of a 12.8 V bank (arithmetic: 300 / 0.9 / 12.8)."""
    flow = _account(
        _cooking(0, 600, 1800),
        LoadSample(0, 1800, voltage_v=12.8),
        LoadSample(600, 0),
    )
    share = flow.runs["Hob", 0]
    assert share.energy_wh == pytest.approx(300)
    assert share.bank_ah == pytest.approx(26.0417, abs=1e-4)
    assert share.drawn_ah == pytest.approx(26.0417, abs=1e-4)


def test_every_load_shares_every_source_in_proportion() -> None:
    """The coincident share of one instant: 500 W of sun in 60 + 1800 / 0.9 W of need.

    500 / 2060 = 0.242718 is arithmetic; the two other meanings a solar share can have
    (0.2200 marginal after the base load, 0.2500 cooking first) are not what is meant here.
    """
    flow = _account(
        _cooking(0, 3600, 1800),
        LoadSample(0, 1800, solar_w=500, battery_w=-1560, voltage_v=12.8),
        LoadSample(3600, 0),
    )
    share = flow.runs["Hob", 0]
    assert share.solar_wh / share.energy_wh == pytest.approx(0.242718, abs=1e-6)
    assert share.drawn_ah / share.bank_ah == pytest.approx(1560 / 2060)


def test_nothing_is_drawn_from_a_bank_that_is_charging() -> None:
    flow = _account(
        _cooking(0, 3600, 400),
        LoadSample(0, 420, solar_w=900, battery_w=400, voltage_v=13.4),
        LoadSample(3600, 0),
    )
    share = flow.runs["Hob", 0]
    assert share.drawn_ah == 0
    assert share.solar_wh == pytest.approx(share.energy_wh)


def test_without_a_battery_meter_the_bank_gives_what_the_sun_leaves() -> None:
    flow = _account(
        _cooking(0, 3600, 900),
        LoadSample(0, 900, solar_w=250),
        LoadSample(3600, 0),
    )
    share = flow.runs["Hob", 0]
    assert share.solar_wh == pytest.approx(225)
    assert share.drawn_ah == pytest.approx(share.bank_ah * 0.75)
    assert flow.net_ah is None


def test_a_bank_meter_alone_says_what_was_drawn_but_not_that_the_rest_was_sun() -> None:
    flow = _account(
        _cooking(0, 3600, 900),
        LoadSample(0, 900, battery_w=-500, voltage_v=12.5),
        LoadSample(3600, 0),
    )
    share = flow.runs["Hob", 0]
    assert share.solar_wh == 0
    assert share.drawn_ah == pytest.approx(share.bank_ah / 2)


def test_a_sun_without_a_meter_is_not_taken_for_the_bank_beside_an_idle_charger() -> (
    None
):
    """900 / 0.9 W of need, 100 of them from the bank: a tenth is drawn (arithmetic)."""
    flow = _account(
        _cooking(0, 3600, 900),
        LoadSample(0, 900, other_charging_w=0, battery_w=-100, voltage_v=12.5),
        LoadSample(3600, 0),
    )
    share = flow.runs["Hob", 0]
    assert share.drawn_ah == pytest.approx(share.bank_ah / 10)


def test_a_bank_told_in_watts_alone_is_counted_at_its_nominal_voltage() -> None:
    """640 W out of a 12.8 V bank for half an hour are 25 Ah (arithmetic)."""
    flow = _account(
        _cooking(0, 1800, 500),
        LoadSample(0, 500, battery_w=-640),
        LoadSample(1800, 0),
    )
    assert flow.net_ah == pytest.approx(25.0)


def test_the_net_charge_is_what_a_battery_monitor_counts() -> None:
    """140 A for 900 s are 35.000 Ah whatever the voltage does (arithmetic)."""
    samples = [
        LoadSample(s, 1600, battery_a=-140, voltage_v=13.2 - 0.6 * s / 900)
        for s in range(0, 901, 10)
    ]
    flow = _account(_cooking(0, 900, 1600), *samples)
    assert flow.net_ah == pytest.approx(35.0)


def test_standby_is_told_apart_from_background() -> None:
    flow = _account(Segment(0, 3600), LoadSample(0, 65), LoadSample(3600, 0))
    assert flow.standby_wh == {"Hob": pytest.approx(20)}
    assert flow.background_wh == pytest.approx(45)


def test_standby_never_exceeds_what_was_measured() -> None:
    flow = _account(Segment(0, 3600), LoadSample(0, 12), LoadSample(3600, 0))
    assert flow.standby_wh == {"Hob": pytest.approx(12)}
    assert flow.background_wh == 0


def test_behind_an_open_relay_there_is_no_standby() -> None:
    dead = frozenset({"Galley 1"})
    flow = _account(
        Segment(0, 3600),
        LoadSample(0, 65, open_circuits=dead),
        LoadSample(3600, 0, open_circuits=dead),
    )
    assert flow.standby_wh == {}
    assert flow.background_wh == pytest.approx(65)


def test_what_was_not_measured_is_said_and_not_counted() -> None:
    """A gap of 600 s after 1990 W adds no energy: 0 Wh, not the 331.67 Wh of holding."""
    flow = _account(
        _cooking(0, 660, 1990),
        LoadSample(0, 1990),
        LoadSample(60, None),
        LoadSample(660, 200),
    )
    assert flow.unmeasured_s == pytest.approx(600)
    assert flow.load_wh == pytest.approx(1990 * 60 / 3600)


def _kettle(start_s: float, end_s: float, power_w: float) -> Segment:
    kettle = Activity("Kettle", start_s, power_w, Phase.HEATING, 1.0)
    return Segment(start_s, end_s, (kettle,))


def test_an_own_meter_goes_on_counting_beside_a_dead_load_meter() -> None:
    """1800 W for 300 s are 150 Wh, and nobody knows what else was drawn (arithmetic)."""
    flow = _account(
        _kettle(0, 300, 1800),
        LoadSample(0, 1900),
        LoadSample(60, None, voltage_v=12.5),
        LoadSample(300, 100),
        appliances=(METERED_KETTLE,),
    )
    share = flow.runs["Kettle", 0]
    assert share.energy_wh == pytest.approx(150)
    assert flow.own_meters_wh == pytest.approx(120)
    assert flow.load_wh == pytest.approx(150 + 100 * 60 / 3600)
    assert _total(flow) == pytest.approx(flow.load_wh)
    assert flow.unmeasured_s == pytest.approx(240)
    # 30 Wh at the bank's nominal voltage and 120 Wh at 12.5 V, through an inverter of 0.9.
    assert share.bank_ah == pytest.approx((30 / 12.8 + 120 / 12.5) / 0.9)


def test_sun_and_bank_share_an_own_meters_load_though_the_others_are_not_known() -> (
    None
):
    """Of 900 W from the sun and 1600 W from the bank 36 % are the sun's (arithmetic)."""
    flow = _account(
        _kettle(0, 300, 1800),
        LoadSample(0, None, solar_w=900, battery_w=-1600),
        LoadSample(300, None),
        appliances=(METERED_KETTLE,),
    )
    share = flow.runs["Kettle", 0]
    assert share.solar_wh / share.energy_wh == pytest.approx(0.36)
    assert share.drawn_ah / share.bank_ah == pytest.approx(0.64)
    assert flow.sun_unknown_s == 0


def test_without_load_and_bank_nobody_can_say_what_the_sun_gave_to_a_kettle() -> None:
    flow = _account(
        _kettle(0, 300, 1800),
        LoadSample(0, None, solar_w=900),
        LoadSample(300, None),
        appliances=(METERED_KETTLE,),
    )
    assert flow.runs["Kettle", 0].energy_wh == pytest.approx(150)
    assert flow.sun_unknown_s == pytest.approx(300)


watts = st.one_of(st.none(), st.floats(0, 6000))


@given(
    loads=st.lists(
        st.tuples(st.floats(0.5, 400), watts, watts, st.floats(-4000, 3000)),
        min_size=1,
        max_size=30,
    ),
    claims=st.lists(st.floats(0, 3000), max_size=4),
    unnamed_w=st.floats(0, 2000),
    cuts=st.lists(st.floats(0.01, 0.99), max_size=4),
    kettle=st.sampled_from([KETTLE, METERED_KETTLE]),
)
def test_energy_is_conserved_whatever_is_claimed(
    loads: list[tuple[float, float | None, float | None, float]],
    claims: list[float],
    unnamed_w: float,
    cuts: list[float],
    kettle: Appliance,
) -> None:
    boat = small_boat(appliances=(HOB, kettle, OVEN, HEATER))
    cells, at_s, measured_wh = Cells(), 0.0, 0.0
    for span_s, load_w, solar_w, battery_w in loads:
        cells.add(LoadSample(at_s, load_w, solar_w=solar_w, battery_w=battery_w))
        at_s += span_s
        measured_wh += (load_w or 0.0) * span_s / 3600
    cells.add(LoadSample(at_s, 0.0))
    totals = Totals()
    edges = [0.0, *sorted(cut * at_s for cut in cuts), at_s]
    names = [appliance.name for appliance in boat.appliances]
    before = 0.0
    for start_s, end_s in pairwise(edges):
        activities = tuple(
            Activity(name, 0.0, power_w, Phase.HEATING, 0.9)
            for name, power_w in zip(names, claims, strict=False)
        )
        segment = Segment(start_s, end_s, activities, unnamed_w)
        flow = account(boat, segment, cells.take_until(end_s), lambda name: 15.0)
        assert _total(flow) == pytest.approx(flow.load_wh, rel=1e-9, abs=1e-9)
        for share in flow.runs.values():
            assert 0 <= share.drawn_ah <= share.bank_ah * (1 + 1e-9)
            assert 0 <= share.solar_wh <= share.energy_wh * (1 + 1e-9)
        totals.add(flow)
        measured_wh += flow.own_meters_wh
        assert totals.load_wh >= before
        before = totals.load_wh
    assert totals.load_wh == pytest.approx(measured_wh, rel=1e-6, abs=1e-6)
    assert Totals.from_mapping(totals.as_mapping()) == totals
