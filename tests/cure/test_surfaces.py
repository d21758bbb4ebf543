from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from heat_support import floats
from hypothesis import given
from hypothesis import strategies as st

from cure.evaporation import menzel_kg_m2_h, vapour_kpa, vapours_slope_kpa
from cure.maturity import Floats
from cure.slab import Face
from cure.surfaces import (
    LATENT_J_PER_KG,
    PLYWOOD_M2_K_PER_W,
    STILL_AIR_W_PER_M2_K,
    Below,
    Outdoors,
    Top,
    bottom_face,
    clear_sky_emissivity,
    clear_sky_w_per_m2,
    evaporation_w_per_m2,
    film_rough,
    film_smooth,
    radiation_w_per_m2_k,
    swinbank_sky_c,
    top_face,
)

ONE, ZERO = floats(1.0), floats(0.0)
MILD = Outdoors(floats(20.0), floats(3.0), floats(60.0), ZERO, ZERO)
DRY = Top(ZERO, ZERO, ONE, floats(0.65), floats(0.9))
WET = replace(DRY, wet=ONE)


def heat_in(face: Face, surface_c: float) -> float:
    """Return what flows into a surface of a temperature. [W/m2]"""
    return float(((face.outside_c - surface_c) / face.resistance_m2_k_per_w)[0])


def test_the_films_are_those_of_the_printed_formulas() -> None:
    # Juerges, McAdams (from memory): rough 6.2 + 4.3 v, 7.6 v^0.78; smooth 5.6 + 3.95 v, 7.2 v^0.78; values computed.
    wind = floats(0.0, 1.0, 3.0, 5.0, 10.0)
    assert film_rough(wind) == pytest.approx([6.2, 10.5, 19.1, 27.7, 45.8], abs=0.05)
    # At 5 m/s the line gives 25.35, printed as 25.4.
    assert film_smooth(wind) == pytest.approx([5.6, 9.55, 17.45, 25.35, 43.4], abs=0.05)


@given(st.floats(0.0, 40.0), st.floats(0.0, 10.0))
def test_more_wind_is_never_a_weaker_film(wind: float, more: float) -> None:
    for film in (film_rough, film_smooth):
        weak, strong = film(floats(wind, wind + more))
        assert strong >= weak - 1e-12


@pytest.mark.parametrize("wind", [-1.0, math.nan])
@pytest.mark.parametrize("film", [film_rough, film_smooth])
def test_a_wind_that_is_not_known_gives_no_film(film: Callable[[Floats], Floats], wind: float) -> None:
    assert math.isnan(film(floats(wind))[0])


def test_radiation_and_sky_are_those_of_the_formulas() -> None:
    # Computed: 4 x 0.9 x 5.67e-8 x 283.15^3 = 4.63; Swinbank 293.15 -> 277.06 K, 273.15 -> 249.20 K; Berdahl and Martin
    # at dew points of -10, 0 and 10 degC; the loss of a surface of emissivity 0.9 under Swinbank's sky, 76 and 87 W/m2.
    assert radiation_w_per_m2_k(floats(10.0), floats(0.9)) == pytest.approx([4.63], abs=0.005)
    air = floats(20.0, 0.0)
    sky = swinbank_sky_c(air)
    assert sky + 273.15 == pytest.approx([277.06, 249.20], abs=0.01)
    assert clear_sky_emissivity(floats(-10.0, 0.0, 10.0)) == pytest.approx([0.6623, 0.711, 0.7743], abs=1e-4)
    assert 0.9 * clear_sky_w_per_m2(air, sky) == pytest.approx([76.0, 87.0], abs=0.5)


def test_a_kilogram_of_water_an_hour_takes_681_watts() -> None:
    # Computed: 2.45 MJ/kg / 3600 s.
    assert round(LATENT_J_PER_KG / 3600.0) == 681


@given(st.floats(0.0, 45.0), st.floats(-10.0, 40.0), st.floats(0.0, 100.0), st.floats(0.0, 15.0))
def test_evaporation_takes_the_heat_of_menzels_rate(
    surface_c: float, air_c: float, humidity: float, wind: float
) -> None:
    weather = Outdoors(floats(air_c), floats(wind), floats(humidity), ZERO, ZERO)
    lost, rise = evaporation_w_per_m2(weather, floats(surface_c))
    rate = menzel_kg_m2_h(surface_c, air_c, humidity, wind * 3.6)
    assert lost[0] == pytest.approx(max(0.0, rate) * LATENT_J_PER_KG / 3600.0, rel=1e-9, abs=1e-9)
    assert rise[0] >= 0.0


@given(st.floats(-10.0, 60.0))
def test_the_slope_of_vapour_pressure_is_its_difference(c: float) -> None:
    slope = (vapour_kpa(c + 1e-3) - vapour_kpa(c - 1e-3)) / 2e-3
    assert vapours_slope_kpa(floats(c))[0] == pytest.approx(slope, rel=1e-6)


def test_plywood_in_still_air_lets_three_and_a_half_watts_through() -> None:
    # Computed: 1 / (1/8 + 0.165) = 3.4 W/m2K.
    face = bottom_face(Below(floats(10.0), floats(PLYWOOD_M2_K_PER_W), floats(STILL_AIR_W_PER_M2_K)))
    assert 1.0 / face.resistance_m2_k_per_w == pytest.approx([3.4], abs=0.05)
    assert face.outside_c == pytest.approx([10.0])


def test_without_sun_sky_and_water_the_outside_is_the_air() -> None:
    face = top_face(MILD, DRY, floats(25.0))
    assert face.outside_c == pytest.approx([20.0])
    # 19.1 by wind and 4 x 0.9 x 5.67e-8 x 293.15^3 = 5.14 by radiation.
    assert 1.0 / face.resistance_m2_k_per_w == pytest.approx([24.24], abs=0.01)


def test_sun_warms_and_sky_cools_by_what_the_surface_takes_of_them() -> None:
    sun = replace(MILD, sun_w_per_m2=floats(500.0))
    sky = replace(MILD, sky_w_per_m2=floats(84.0))
    calm = heat_in(top_face(MILD, DRY, floats(20.0)), 20.0)
    assert heat_in(top_face(sun, DRY, floats(20.0)), 20.0) - calm == pytest.approx(0.65 * 500.0)
    assert heat_in(top_face(sky, DRY, floats(20.0)), 20.0) - calm == pytest.approx(-0.9 * 84.0)


@given(st.floats(0.0, 45.0), st.floats(-5.0, 5.0))
def test_a_wet_surface_loses_the_heat_of_evaporation_too(surface_c: float, off: float) -> None:
    # At the temperature around which it is drawn exactly; near it by the line.
    dry, wet = (top_face(MILD, top, floats(surface_c)) for top in (DRY, WET))
    lost, rise = evaporation_w_per_m2(MILD, floats(surface_c))
    for at, more in ((surface_c, 0.0), (surface_c + off, float(rise[0]) * off)):
        assert heat_in(dry, at) - heat_in(wet, at) == pytest.approx(float(lost[0]) + more, abs=1e-6)


def test_a_cover_ends_evaporation_and_slows_all_the_rest() -> None:
    covered = replace(WET, cover_m2_k_per_w=floats(0.35))
    face = top_face(MILD, covered, floats(30.0))
    bare = top_face(MILD, DRY, floats(30.0))
    assert face.outside_c == pytest.approx(bare.outside_c)
    assert face.resistance_m2_k_per_w == pytest.approx(bare.resistance_m2_k_per_w + 0.35)


def test_a_dry_surface_does_not_ask_for_the_humidity_and_a_wet_one_does() -> None:
    unknown = replace(MILD, humidity_percent=floats(math.nan))
    assert top_face(unknown, DRY, floats(20.0)).outside_c == pytest.approx([20.0])
    assert np.isnan(top_face(unknown, WET, floats(20.0)).outside_c).all()
    assert np.isnan(top_face(replace(MILD, humidity_percent=floats(130.0)), WET, floats(20.0)).outside_c).all()


@pytest.mark.parametrize("field", ["air_c", "wind_m_per_s", "sun_w_per_m2", "sky_w_per_m2"])
def test_a_face_in_weather_that_is_not_known_is_not_known(field: str) -> None:
    for top in (DRY, WET):
        face = top_face(replace(MILD, **{field: floats(math.nan)}), top, floats(20.0))
        assert np.isnan(face.outside_c).all()


C = st.floats(-20.0, 40.0)


@given(C, st.floats(0.0, 10.0), st.floats(0.0, 40.0), st.floats(0.0, 15.0), st.sampled_from([DRY, WET]))
def test_warmer_air_never_brings_less_heat(air: float, more: float, surface: float, wind: float, top: Top) -> None:
    def brought(air_c: float) -> float:
        weather = Outdoors(floats(air_c), floats(wind), floats(50.0), floats(200.0), ZERO)
        near: Floats = floats(surface)
        return heat_in(top_face(weather, top, near), surface)

    assert brought(air + more) >= brought(air) - 1e-9
