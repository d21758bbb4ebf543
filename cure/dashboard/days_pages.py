"""The page of the days ahead; on paper it is the morning's list."""

from __future__ import annotations

from collections.abc import Callable

from starlette.responses import Response

from cure.dashboard.asked import Asked, Parts
from cure.dashboard.days import ahead
from cure.dashboard.rendering import page


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {("GET", "/days"): lambda asked: _days(parts, asked)}


def _days(parts: Parts, asked: Asked) -> Response:
    board = parts.board
    found = ahead(board.board(), asked.site, asked.now, asked.reader, doubted=bool(board.doubts()))
    return page(asked, "days.html", ahead=found, hour=asked.reader.whole_hour(asked.now))
