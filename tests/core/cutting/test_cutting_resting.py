"""What the boat draws at rest, as the second judge of idleness sees it."""

from custom_components.galley_loads.core.cutting.rest_power import RestPower

HOUR_S = 3600.0


def _after(*stretches: tuple[float, float]) -> RestPower:
    """Return what is known after loads in W that held for hours."""
    resting = RestPower()
    for load_w, hours in stretches:
        for _ in range(int(hours * 60)):
            resting.observe(load_w, 60.0)
    return resting


def test_nothing_is_known_of_a_new_boat() -> None:
    assert RestPower().level_w is None


def test_a_fridge_that_cycles_is_rest() -> None:
    level_w = _after(*[(40.0, 0.5), (95.0, 0.5)] * 6).level_w
    assert level_w is not None
    assert 95.0 <= level_w < 250.0


def test_an_hour_of_something_overlooked_is_not_the_new_rest() -> None:
    level_w = _after((40.0, 12.0), (900.0, 1.0)).level_w
    assert level_w is not None
    assert level_w < 300.0


def test_a_new_permanent_load_is_rest_after_some_days() -> None:
    """What was learnt fades, so that a boat that changed is learnt anew."""
    level_w = _after((40.0, 72.0), (140.0, 96.0)).level_w
    assert level_w is not None
    assert level_w >= 140.0


def test_what_is_known_survives_a_restart() -> None:
    resting = _after((40.0, 3.0), (95.0, 1.0))
    again = RestPower()
    again.restore(resting.snapshot())
    assert again.level_w == resting.level_w
