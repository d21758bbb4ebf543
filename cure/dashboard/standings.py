"""Whether messages still stand, by the pours as the site book has them now: one answer for pages and other software."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from cure.dashboard.board import is_late
from cure.dashboard.standing import Standing, standing
from shared.models.base import THE_SITE, Ms, PourId
from shared.models.messages import Message
from shared.models.setup import SiteFile
from shared.ports import BoardBook, BoardRow, Decided


def standings(
    board: BoardBook, open_pours: Sequence[BoardRow], site: SiteFile, now_ms: Ms, messages: Sequence[Message] = ()
) -> Callable[[Message], Standing | None]:
    """Return what says whether a message stands; None: it neither permits nor shuts anything.

    Args:
        board: where doubts and closed pours are read, a pour when a message of it is asked for.
        open_pours: as `board.board()` has them.
        site: the set-up in force.
        now_ms: site time.
        messages: which will be asked about: their pours are read at once.

    Raises:
        StoreError: the site book cannot be read; what is returned may raise it too.
    """
    rows = {row.pour.id: row for row in open_pours}
    doubted = bool(board.doubts())
    closed = dict(board.decided({m.pour for m in messages if m.pour != THE_SITE and m.pour not in rows}))

    def decided(pour: PourId) -> Decided | BoardRow:
        if pour not in rows and pour not in closed:
            closed.update(board.decided([pour]))
        return rows.get(pour) or closed[pour]

    def found(message: Message) -> Standing | None:
        if message.pour == THE_SITE:
            return None
        row = rows.get(message.pour)
        stopped = doubted or (row is not None and is_late(row, site, now_ms))
        return standing(message, decided(message.pour), row, now_ms, stopped=stopped)

    return found
