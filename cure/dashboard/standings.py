"""Whether messages still stand, by the pours as the site book has them now: one answer for pages and other software."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache

from cure.dashboard.board import is_late
from cure.dashboard.standing import Standing, standing
from shared.models.base import THE_SITE, Ms
from shared.models.messages import Message
from shared.models.setup import SiteFile
from shared.ports import BoardBook, BoardRow


def standings(
    board: BoardBook, open_pours: Sequence[BoardRow], site: SiteFile, now_ms: Ms
) -> Callable[[Message], Standing | None]:
    """Return what says whether a message stands; None: it neither permits nor shuts anything.

    Args:
        board: where doubts and pours are read, a pour when a message of it is asked for.
        open_pours: as `board.board()` has them.
        site: the set-up in force.
        now_ms: site time.

    Raises:
        StoreError: the site book cannot be read; what is returned may raise it too.
    """
    rows = {row.pour.id: row for row in open_pours}
    doubted = bool(board.doubts())
    case_of = cache(board.case)

    def found(message: Message) -> Standing | None:
        if message.pour == THE_SITE:
            return None
        row = rows.get(message.pour)
        stopped = doubted or (row is not None and is_late(row, site, now_ms))
        return standing(message, case_of(message.pour), row, now_ms, stopped=stopped)

    return found
