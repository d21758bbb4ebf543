"""The board, whole and as the part that a script asks for again."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import urlencode

from markupsafe import Markup
from starlette.responses import Response

from cure.dashboard.answers import tag_of, tagged
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.board import Board, Line, board
from cure.dashboard.kept import Kept
from cure.dashboard.rendering import page, render
from cure.dashboard.signs import SIGNS


class _Boards:
    """The board, worded anew only where something has moved: crowds look at it, and most of it stands for long."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._lines = Kept[Line]()
        self._rows = Kept[str]()

    def whole(self, asked: Asked) -> Response:
        shown, rows = self._shown(asked)
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

    def part(self, asked: Asked) -> Response:
        return tagged(self._shown(asked)[1], asked.tag, asked.reader.clock(asked.now))

    def _shown(self, asked: Asked) -> tuple[Board, str]:
        # Doubts first: whatever suspends every gate may be new, an older row must not stand without it.
        doubts, floor = self._parts.board.doubts(), _floor(asked)
        shown = board(self._parts.board.board(), doubts, asked.site, asked.now, asked.reader, floor, self._lines)
        # The rows are the same for everybody who reads in this language.
        key = asked.reader.language, asked.reader.first, floor
        return shown, self._rows.of(key, (shown,), lambda: render(asked, "board_rows.html", board=shown))


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    boards = _Boards(parts)
    return {("GET", "/"): boards.whole, ("GET", "/board/rows"): boards.part}


def _floor(asked: Asked) -> str:
    floor = asked.query.get("floor", "")
    return floor if any(b.floor == floor for b in asked.site.bay) else ""
