"""What "the sun's share of a load" can mean, and which meaning is ours.

Three honest definitions give three numbers for the same instant (500 W of sun, 60 W of
other draw, 2000 W at the bank for cooking: 0.243, 0.220 and 0.250). Everything in this
project uses `coincident_share`.
"""


def coincident_share(source_w: float, cooking_dc_w: float, other_dc_w: float) -> float:
    """Return the sun's part when every load shares each source in proportion. Ours.

    All powers are on the bank's side of the inverter. 0 where nothing draws.
    """
    demand_w = cooking_dc_w + other_dc_w
    return min(source_w / demand_w, 1.0) if demand_w > 0.0 else 0.0


def marginal_share(source_w: float, cooking_dc_w: float, other_dc_w: float) -> float:
    """Return the sun's part of the cooking when all other draw is served first."""
    if cooking_dc_w <= 0.0:
        return 0.0
    return min(max(source_w - other_dc_w, 0.0) / cooking_dc_w, 1.0)


def cooking_first_share(source_w: float, cooking_dc_w: float) -> float:
    """Return the sun's part of the cooking when the cooking is served first."""
    return min(source_w / cooking_dc_w, 1.0) if cooking_dc_w > 0.0 else 0.0
