"""The cure curves of a bay's page: strength first, then what each sensor read, over the hours that were asked for."""

from __future__ import annotations

from typing import Final

from markupsafe import Markup

from cure.dashboard.chart_words import WORDS
from cure.dashboard.charts import strength_chart, temperature_chart
from cure.dashboard.ink import SIZES
from cure.dashboard.pour_view import PourView
from cure.dashboard.reader import Reader
from cure.dashboard.svgchart import both
from shared.models.base import HOUR_MS

SHOWN_H: Final = ("24", "72", "")
"""How many of the last hours may be asked for; "": all since the first concrete."""


def curves(view: PourView, reader: Reader, hours: str) -> tuple[Markup, ...]:
    """Return the charts of a pour, each in both sizes of a page.

    Args:
        view: the pour as the stores have it.
        reader: whose language and units they are drawn in.
        hours: one of `SHOWN_H`; anything else shows all.
    """
    from_ms = None
    if hours in SHOWN_H and hours:
        from_ms = max(view.case.pour.start_ms, view.until_ms - int(hours) * HOUR_MS)
    window = view.window(from_ms, first=reader.first, words=WORDS[reader.language])
    charts = strength_chart(view.strength(window), window), temperature_chart(view.temperature(window), window)
    return tuple(Markup(both(chart, SIZES)) for chart in charts)  # noqa: S704 - SVG of ours, escaped already
