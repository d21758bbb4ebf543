"""What is above and below a curing slab: wind, sun, sky, evaporation, cover, forms, the space below. Pure.

Each number of every function is of shape (columns,) or (1,), at the middle of a step. For planning and forecast; no
release rests on it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from cure.evaporation import menzel_kg_m2_h_kpa, vapours_kpa, vapours_slope_kpa
from cure.maturity import KELVIN, Floats
from cure.slab import HOUR_S, Face

STEFAN_BOLTZMANN_W_PER_M2_K4: Final = 5.670374419e-8
"""CODATA 2018, exact."""
LATENT_J_PER_KG: Final = 2.45e6
"""Heat that evaporating water takes, near 20 degC (FAO 56, equation 8; from memory)."""
VAPOUR_C: Final = (-60.0, 100.0)
"""Surfaces of which the formula of vapour holds at all: ice as cold has next to none, water as hot boils."""
KM_H_PER_M_S: Final = 3.6
STRONG_WIND_M_PER_S: Final = 5.0
STILL_AIR_W_PER_M2_K: Final = 8.0
"""Film below forms out of the wind, radiation within (our judgement)."""
WINDY_BELOW_W_PER_M2_K: Final = 15.0
"""The same where the wind blows through (our judgement)."""
PLYWOOD_M2_K_PER_W: Final = 0.165
"""19 mm of plywood, 1.25 ft2 h degF/Btu an inch (ACI 306R, table of insulation, from memory)."""
CONDUCTIVITY_W_PER_M_K: Final = 1.9
"""Young normal-weight concrete, 1.5 to 3.5 (Schindler 2002, ACI 122R, from memory)."""
CAPACITY_J_PER_M3_K: Final = 2.35e6
"""2350 kg/m3, nominal (read), times 1000 J/(kg K), 900 to 1150 (Schindler 2002, ACI 122R, from memory)."""
ABSORPTIVITY: Final = 0.65
"""Of grey concrete, 0.55 to 0.70; white curing compound 0.35 to 0.45, a black blanket 0.9 (from memory)."""
EMISSIVITY: Final = 0.90
"""0.88 to 0.94 (from memory)."""


@dataclass(frozen=True, slots=True)
class Outdoors:
    """The weather over a slab."""

    air_c: Floats
    wind_m_per_s: Floats
    humidity_percent: Floats
    sun_w_per_m2: Floats
    """On the level."""
    sky_w_per_m2: Floats
    """What a black surface at the air's temperature loses to the sky (`clear_sky_w_per_m2`), 0 under cloud."""


@dataclass(frozen=True, slots=True)
class Top:
    """The upper side of a slab."""

    cover_m2_k_per_w: Floats
    """0: none."""
    wet: Floats
    """Share of the surface on which water stands, 1 while it bleeds, 0 once it is dull, sealed or covered."""
    film_factor: Floats
    """By which the film of air differs from the formula: they differ twofold among themselves."""
    absorptivity: Floats
    emissivity: Floats


@dataclass(frozen=True, slots=True)
class Below:
    """The under side of a slab."""

    air_c: Floats
    """Of the space below, heated or not."""
    forms_m2_k_per_w: Floats
    """0: they are off."""
    film_w_per_m2_k: Floats


def film_rough(wind_m_per_s: Floats) -> Floats:
    """Return the convection over a rough surface: 6.2 + 4.3 v to 5 m/s, above it 7.6 v^0.78. [W/m2K]

    Source: Juerges 1924, McAdams 1954 (from memory). The default: the stronger film is the colder slab.
    """
    return _film(wind_m_per_s, 6.2, 4.3, 7.6)


def film_smooth(wind_m_per_s: Floats) -> Floats:
    """Return the convection over a smooth surface: 5.6 + 3.95 v to 5 m/s, above it 7.2 v^0.78. [W/m2K]

    Source: Juerges 1924, McAdams 1954 (from memory).
    """
    return _film(wind_m_per_s, 5.6, 3.95, 7.2)


def _film(wind: Floats, still: float, rise: float, strong: float) -> Floats:
    # The power of a wind below 0 is no number, so is the film.
    known = np.where(wind >= 0.0, wind, np.nan)
    # The two do not quite meet: the larger, so that more wind is never a weaker film.
    line = still + rise * np.minimum(known, STRONG_WIND_M_PER_S)
    return np.asarray(np.where(known > STRONG_WIND_M_PER_S, np.maximum(line, strong * known**0.78), line))


def radiation_w_per_m2_k(mean_c: Floats, emissivity: Floats) -> Floats:
    """Return what a surface exchanges by radiation, made linear: 4 eps sigma T^3, T in kelvin. [W/m2K]"""
    return 4.0 * emissivity * STEFAN_BOLTZMANN_W_PER_M2_K4 * (mean_c + KELVIN) ** 3


def swinbank_sky_c(air_c: Floats) -> Floats:
    """Return the temperature that a clear night sky radiates with: 0.0552 Ta^1.5, both in kelvin. [degC]

    Source: Swinbank 1963 (from memory).
    """
    return 0.0552 * (air_c + KELVIN) ** 1.5 - KELVIN


def clear_sky_emissivity(dew_c: Floats) -> Floats:
    """Return the emissivity of a clear sky: 0.711 + 0.56 (Td/100) + 0.73 (Td/100)^2, by the dew point.

    Source: Berdahl and Martin 1984 (from memory). Valid: -13 to 24 degC.
    """
    return 0.711 + 0.56 * (dew_c / 100.0) + 0.73 * (dew_c / 100.0) ** 2


def clear_sky_w_per_m2(air_c: Floats, sky_c: Floats) -> Floats:
    """Return what a black surface at the air's temperature loses to a sky: sigma (Ta^4 - Tsky^4). [W/m2]"""
    return STEFAN_BOLTZMANN_W_PER_M2_K4 * ((air_c + KELVIN) ** 4 - (sky_c + KELVIN) ** 4)


def top_face(weather: Outdoors, top: Top, surface_c: Floats) -> Face:
    """Return what is above a slab: film and cover, and the sol-air temperature with the heat of evaporation in it.

    Evaporation goes by the line through a near temperature of the surface, so that no step is too long for it; dew is
    left out. A cover ends it.

    Args:
        weather: now.
        top: the upper side.
        surface_c: near the surface's temperature; the top cell's will do, shape (columns,). [degC]

    Source: the sol-air temperature as in ASHRAE, Handbook of Fundamentals (from memory).
    """
    film = film_rough(weather.wind_m_per_s) * top.film_factor + radiation_w_per_m2_k(weather.air_c, top.emissivity)
    gained = top.absorptivity * weather.sun_w_per_m2 - top.emissivity * weather.sky_w_per_m2
    lost, rise = evaporation_w_per_m2(weather, surface_c)
    wet = np.where(top.cover_m2_k_per_w > 0.0, 0.0, top.wet)
    # A dry surface does not ask for the humidity.
    lost, rise = (np.where(wet == 0.0, 0.0, wet * value) for value in (lost, rise))
    all_film = film + rise
    outside = weather.air_c + (gained + rise * (surface_c - weather.air_c) - lost) / all_film
    return Face(1.0 / all_film + top.cover_m2_k_per_w, np.asarray(outside))


def evaporation_w_per_m2(weather: Outdoors, surface_c: Floats) -> tuple[Floats, Floats]:
    """Return the heat that evaporation takes from a wet surface [W/m2], and its rise with the surface [W/m2K].

    Beyond -60 and 100 degC it goes on by the line from there: in steps far too long a surface may swing so far, and
    the formula of vapour has a pole at -237 degC.
    """
    share = np.where((weather.humidity_percent >= 0.0) & (weather.humidity_percent <= 100.0), 0.01, np.nan)
    each_kpa = menzel_kg_m2_h_kpa(weather.wind_m_per_s * KM_H_PER_M_S) * LATENT_J_PER_KG / HOUR_S
    wet_c = np.clip(surface_c, *VAPOUR_C)
    dry_kpa = vapours_kpa(wet_c) - share * weather.humidity_percent * vapours_kpa(weather.air_c)
    rise = np.where(dry_kpa <= 0.0, 0.0, each_kpa * vapours_slope_kpa(wet_c))
    return np.asarray(each_kpa * np.maximum(dry_kpa, 0.0) + rise * (surface_c - wet_c)), np.asarray(rise)


def bottom_face(below: Below) -> Face:
    """Return what is below a slab: forms and the film of air beneath them."""
    return Face(below.forms_m2_k_per_w + 1.0 / below.film_w_per_m2_k, below.air_c)
