"""What a handover sheet is made of, read from the site book: no more of it than the sheet can name."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from cure import lists
from shared.models.base import Ms
from shared.models.decisions import Doubt
from shared.models.messages import MessageKind
from shared.models.setup import SiteFile
from shared.ports import BoardBook, Which

MOST: Final = 10_000
"""Messages at once: more than open pours have."""


def shown_of(board: BoardBook, site: SiteFile, doubts: Sequence[Doubt], now: Ms) -> lists.Shown:
    """Return what the sheet is made of: open pours, their releases, and the messages that wait for a person."""
    rows = board.board()
    since = Which(from_ms=max(0, now - lists.DELIVERIES_OF_MS))
    # What a person must confirm is asked for by itself, so that no number of other failures can push it out.
    waits, failed = lists.CONFIRMED_BY_PERSONS, lists.NEEDS_A_PERSON
    asked_for = (Which(waits), since)
    waiting = [m for of in asked_for for m in board.waiting_messages(of, waits, failed, MOST)]
    pours = [row.pour.id for row in rows]
    told = board.newest_messages(Which({MessageKind.RELEASED}, pours=pours), MOST) if pours else ()
    messages = sorted({m.no: m for m in (*waiting, *told)}.values(), key=lambda m: m.no)
    return lists.Shown(site, rows, messages, board.deliveries_of({m.no for m in messages}), doubts)
