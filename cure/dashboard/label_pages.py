"""Labels to print: a code for each bay and each sensor, which leads to its page here."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from markupsafe import Markup
from starlette.responses import Response

from cure.dashboard.asked import Asked, Parts
from cure.dashboard.people_pages import base_of
from cure.dashboard.public import is_here_only
from cure.dashboard.rendering import page

PAPERS: Final = ("A4", "Letter")


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {("GET", "/labels"): lambda asked: _labels(parts, asked)}


def _labels(parts: Parts, asked: Asked) -> Response:
    paper = asked.query.get("paper", "")
    paper = paper if paper in PAPERS else PAPERS[0]
    bays = [bay.id for bay in asked.site.bay]
    chosen = asked.query.get("bay", "")
    chosen = chosen if chosen in bays else ""
    address = base_of(asked)
    sheets = parts.beside.sheets(address, paper, [chosen] if chosen else [])
    drawn = [Markup(sheet.replace("<svg ", '<svg aria-hidden="true" focusable="false" ', 1)) for sheet in sheets]  # noqa: S704 - ours, escaped already
    return page(
        asked,
        "labels.html",
        sheets=drawn,
        papers=PAPERS,
        paper=paper,
        bays=bays,
        chosen=chosen,
        address=address,
        here_only=is_here_only(address),
    )
