"""The board, whole and as the part that a script asks for again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from urllib.parse import urlencode

from markupsafe import Markup
from starlette.responses import Response

from cure.dashboard.answers import tag_of, tagged
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.board import Board, Line, board
from cure.dashboard.kept import Kept
from cure.dashboard.lacking import NOTHING, Lacks, lacking
from cure.dashboard.ready_pages import known_of, waiting
from cure.dashboard.rendering import page, render
from cure.dashboard.signs import SIGNS
from shared.models.base import MINUTE_MS
from shared.ports import BoardRow


class _Boards:
    """The board, worded anew only where something has moved: crowds look at it, and most of it stands for long."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._lines = Kept[Line]()
        self._rows = Kept[str]()
        self._lacks = Kept[Lacks]()

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
        rows = self._parts.board.board()
        shown = board(rows, doubts, asked.site, asked.now, asked.reader, floor, self._lines.of)
        shown = replace(shown, lacks=self._lacking(asked, floor, rows))
        # The rows are the same for everybody who reads in this language.
        key = asked.reader.language, asked.reader.first, floor
        return shown, self._rows.of(key, (shown,), lambda: render(asked, "board_rows.html", board=shown))

    def _lacking(self, asked: Asked, floor: str, rows: Sequence[BoardRow]) -> Lacks:
        """Return what bays lack, as it was within the minute: it opens nothing, and takes five questions to say."""
        bays = [bay for bay in waiting(asked.site, rows) if floor in {"", bay.floor}]
        if not bays:
            return NOTHING
        key = asked.reader.language, asked.reader.first, floor
        hangs_on = (asked.now // MINUTE_MS, asked.site, [bay.id for bay in bays])

        def made() -> Lacks:
            known = known_of(self._parts, asked.site, asked.now)
            return lacking(bays, known, asked.now, asked.reader)

        return self._lacks.of(key, hangs_on, made)


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    boards = _Boards(parts)
    return {("GET", "/"): boards.whole, ("GET", "/board/rows"): boards.part}


def _floor(asked: Asked) -> str:
    floor = asked.query.get("floor", "")
    return floor if any(b.floor == floor for b in asked.site.bay) else ""
