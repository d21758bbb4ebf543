"""A chart as a PNG, for mail readers that show no SVG: drawn by Typst with the fonts that it brings."""

from __future__ import annotations

from typing import Final

import typst

from cure.dashboard.ink import Size
from cure.dashboard.layers import Chart
from cure.dashboard.svgchart import alone, svgchart

FONT: Final = "Libertinus Serif"
"""Of those that Typst brings: it has every sign of a chart."""
POINTS_PER_INCH: Final = 72
_SOURCE: Final = b"""
#set page(width: auto, height: auto, margin: 0pt, fill: white)
#image(bytes(sys.inputs.picture), format: "svg", width: float(sys.inputs.width) * 1pt)
"""


def on_paper(svg: str) -> str:
    """Return a chart with its looks inside and in a font that Typst has."""
    return alone(svg, f"'{FONT}'")


def png(chart: Chart, size: Size, *, scale: int = 1) -> bytes:
    """Return a chart as a PNG, `scale` pixels to each unit of its width; the same chart gives the same bytes.

    Args:
        chart: what is drawn.
        size: in which size.
        scale: 2 for screens of many small pixels.
    """
    inputs = {"picture": on_paper(svgchart(chart, size)), "width": str(size.width)}
    made = typst.compile(
        _SOURCE, format="png", ppi=scale * POINTS_PER_INCH, sys_inputs=inputs, ignore_system_fonts=True
    )
    if not isinstance(made, bytes):  # Typst gives a list for several pages.
        raise TypeError("a chart is one page")
    return made
