"""How fast water leaves a fresh surface, by two published formulas; the higher one warns."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from cure.limits import LIMITS
from cure.maturity import Floats

DRIEST_C: Final = -18.0
"""Uno's terms end here: colder air holds next to nothing."""


def vapour_kpa(temperature_c: float) -> float:
    """Return the pressure of saturated vapour over water: 0.61 exp(17.3 T / (237.3 + T)). [kPa]

    Source: P. J. Uno, "Plastic shrinkage cracking and evaporation formulas", ACI Materials Journal 95(4), 1998 (from
    memory). From 0 to 50 degC within 1 % of ASHRAE's formulation, which is a test.
    """
    return float(vapours_kpa(np.array(temperature_c)))


def vapours_kpa(temperature_c: Floats) -> Floats:
    """Return `vapour_kpa` of many temperatures, of the same shape. [kPa]"""
    return np.asarray(0.61 * np.exp(17.3 * temperature_c / (237.3 + temperature_c)))


def vapours_slope_kpa(temperature_c: Floats) -> Floats:
    """Return how it rises with temperature: 17.3 x 237.3 / (237.3 + T)^2 times itself, of the same shape. [kPa/K]"""
    return np.asarray(vapours_kpa(temperature_c) * 17.3 * 237.3 / (237.3 + temperature_c) ** 2)


def menzel_kg_m2_h_kpa(wind_km_h: Floats) -> Floats:
    """Return Menzel's rate for each kPa that the surface is above the air: 0.315 (0.253 + 0.060 V). [kg/m2 h kPa]"""
    return 0.315 * (0.253 + 0.060 * wind_km_h)


def menzel_kg_m2_h(concrete_c: float, air_c: float, humidity_percent: float, wind_km_h: float) -> float:
    """Return the rate of evaporation: 0.315 (e0 - r ea) (0.253 + 0.060 V), below 0 for dew. [kg/m2 h]

    Args:
        concrete_c: surface temperature. [degC]
        air_c: air temperature, 1.2 to 1.8 m above the surface. [degC]
        humidity_percent: relative humidity there. [%]
        wind_km_h: wind 0.5 m above the surface. [km/h]

    Source: Menzel 1954, in SI as Uno 1998 gives it (both from memory); the chart of ACI 305R rests on it.
    """
    dryness_kpa = vapour_kpa(concrete_c) - humidity_percent / 100.0 * vapour_kpa(air_c)
    return dryness_kpa * float(menzel_kg_m2_h_kpa(np.array(wind_km_h)))


def uno_kg_m2_h(concrete_c: float, air_c: float, humidity_percent: float, wind_km_h: float) -> float:
    """Return the rate of evaporation: 5 ((Tc + 18)^2.5 - r (Ta + 18)^2.5) (V + 4) 1e-6. [kg/m2 h]

    Arguments as in `menzel_kg_m2_h`; above -18 degC.

    Source: Uno 1998 (read in a secondary source). Where concrete is warmer than air it lies up to a fifth above Menzel.
    """
    wet, air = (math.pow(_above_driest(c), 2.5) for c in (concrete_c, air_c))
    return 5e-6 * (wet - humidity_percent / 100.0 * air) * (wind_km_h + 4.0)


def _above_driest(temperature_c: float) -> float:
    return 0.0 if temperature_c < DRIEST_C else temperature_c - DRIEST_C


def drying(
    concrete_c: float, air_c: float, humidity_percent: float, wind_km_h: float, *, little_bleeding: bool
) -> tuple[float, bool]:
    """Return the higher of both rates [kg/m2 h], and whether the fresh surface wants protection.

    It does too where the rate is not known.
    """
    rates = [formula(concrete_c, air_c, humidity_percent, wind_km_h) for formula in (menzel_kg_m2_h, uno_kg_m2_h)]
    # The built-in max can pass over a NaN.
    known = 0.0 <= humidity_percent <= 100.0 and wind_km_h >= 0.0 and not any(map(math.isnan, rates))
    rate = max(rates) if known else math.nan
    limit = LIMITS["evaporation, little bleeding" if little_bleeding else "evaporation"]
    return rate, not limit.kept(rate)
