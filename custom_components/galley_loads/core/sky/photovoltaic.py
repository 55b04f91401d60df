"""What an array makes of irradiance before its own history says better."""

from math import prod
from typing import Final

STANDARD_IRRADIANCE_W_M2: Final = 1000.0
STANDARD_CELL_TEMPERATURE_C: Final = 25.0

SYSTEM_LOSSES: Final = (0.02, 0.03, 0.0, 0.02, 0.02, 0.005, 0.015, 0.01, 0.0, 0.03)
"""Soiling, shading, snow, mismatch, wiring, connections, light-induced degradation,
nameplate, age, availability: the defaults of A. Dobos, PVWatts Version 5 Manual
(NREL/TP-6A20-62641, 2014); they multiply to 14.08 %."""

TYPICAL_NOCT_C: Final = 47.0
TYPICAL_POWER_COEFFICIENT_PER_K: Final = -0.0037
TYPICAL_AIR_TEMPERATURE_C: Final = 22.0
TYPICAL_BRIGHT_IRRADIANCE_W_M2: Final = 700.0
"""Common practice for crystalline cells on a deck, no single source; replaced by the
array's own yield within days."""


def cell_temperature_c(air_c: float, irradiance_w_m2: float, noct_c: float) -> float:
    """Return the cell temperature by the nominal-operating-cell-temperature rule.

    Ta + (NOCT - 20) G / 800: the definition of NOCT (20 degrees air, 800 W/m2, 1 m/s)
    taken as linear, as in J. Duffie and W. Beckman, Solar Engineering of Thermal
    Processes.
    """
    return air_c + (noct_c - 20.0) * irradiance_w_m2 / 800.0


def array_power_w(
    standard_power_w: float,
    irradiance_w_m2: float,
    cell_c: float,
    coefficient_per_k: float,
) -> float:
    """Return the DC power of an array: Pstc G/1000 (1 + g (Tc - 25)), the PVWatts form."""
    return (
        standard_power_w
        * irradiance_w_m2
        / STANDARD_IRRADIANCE_W_M2
        * (1.0 + coefficient_per_k * (cell_c - STANDARD_CELL_TEMPERATURE_C))
    )


def system_loss_share(losses: tuple[float, ...] = SYSTEM_LOSSES) -> float:
    """Return the share lost when each loss takes its part of what the others leave."""
    return 1.0 - prod(1.0 - loss for loss in losses)


def typical_yield() -> float:
    """Return what a level array gives of nameplate power times irradiance, in bright sun."""
    irradiance = TYPICAL_BRIGHT_IRRADIANCE_W_M2
    cell_c = cell_temperature_c(TYPICAL_AIR_TEMPERATURE_C, irradiance, TYPICAL_NOCT_C)
    share = array_power_w(1.0, irradiance, cell_c, TYPICAL_POWER_COEFFICIENT_PER_K)
    return share * STANDARD_IRRADIANCE_W_M2 / irradiance * (1.0 - system_loss_share())
