"""A chart as a PNG: of the wanted size, the same bytes twice, and with something on it."""

from __future__ import annotations

import struct

import pytest
from charts_support import cold_pour

from cure.dashboard.charts import Temperature, strength_chart, temperature_chart
from cure.dashboard.ink import NARROW, SIZES, WIDE, Size
from cure.dashboard.layers import Chart
from cure.dashboard.pictures import png


def strength() -> Chart:
    view = cold_pour()
    return strength_chart(view.strength(view.window()), view.window())


def measures(picture: bytes) -> tuple[int, int]:
    """Return width and height as the header of a PNG has them (PNG specification, 11.2.2)."""
    assert picture[:8] == b"\x89PNG\r\n\x1a\n"
    assert picture[12:16] == b"IHDR"
    width, height = struct.unpack(">II", picture[16:24])
    return width, height


@pytest.mark.parametrize("size", SIZES, ids=lambda size: size.name)
@pytest.mark.parametrize("scale", [1, 2])
def test_it_is_a_png_of_the_wanted_width(size: Size, scale: int) -> None:
    width, height = measures(png(strength(), size, scale=scale))
    assert width == scale * size.width
    assert scale * 200 < height < scale * 400


def test_the_same_chart_gives_the_same_bytes() -> None:
    assert png(strength(), WIDE) == png(strength(), WIDE)


def test_a_curve_weighs_more_than_an_empty_panel() -> None:
    window = cold_pour().window()
    nothing = temperature_chart(Temperature(()), window)
    assert len(png(strength(), NARROW)) > 2 * len(png(nothing, NARROW))
