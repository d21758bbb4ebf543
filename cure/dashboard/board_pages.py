"""The board, whole and as the part that a script asks for again."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import urlencode

from markupsafe import Markup
from starlette.responses import Response

from cure.dashboard.answers import tag_of, tagged
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.board import Board, board
from cure.dashboard.rendering import page, render
from cure.dashboard.signs import SIGNS


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", "/"): lambda asked: _whole(parts, asked),
        ("GET", "/board/rows"): lambda asked: tagged(_rows(parts, asked)[1], asked.tag, asked.reader.clock(asked.now)),
    }


def _whole(parts: Parts, asked: Asked) -> Response:
    shown, rows = _rows(parts, asked)
    live = "/board/rows?" + urlencode({k: asked.query[k] for k in ("floor", "big") if k in asked.query})
    return page(
        asked,
        "board.html",
        board=shown,
        rows=Markup(rows),  # noqa: S704 - a part of ours, escaped already
        floor=_floor(asked),
        live=live,
        tag=tag_of(rows),
        hour=asked.reader.clock(asked.now),
        signs=SIGNS,
    )


def _rows(parts: Parts, asked: Asked) -> tuple[Board, str]:
    # Doubts first: whatever suspends every gate may be new, an older row must not stand without it.
    doubts = parts.board.doubts()
    shown = board(parts.board.board(), doubts, asked.site, asked.now, asked.reader, _floor(asked))
    return shown, render(asked, "board_rows.html", board=shown)


def _floor(asked: Asked) -> str:
    floor = asked.query.get("floor", "")
    return floor if any(b.floor == floor for b in asked.site.bay) else ""
