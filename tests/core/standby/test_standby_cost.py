"""What a standby costs the bank."""

import pytest

from custom_components.galley_loads.core.standby import standby_cost

from .resting_day import boat_with


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
