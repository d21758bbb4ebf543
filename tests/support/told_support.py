"""A site whose pour was released and then stopped, with what was told of both, for messages and records."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from cure_support import Story, warm
from pages_support import Bench
from record_support import HASH

from shared.models.base import HOUR_MS, MINUTE_MS, STRIP, RecipientId
from shared.models.messages import Delivery, DeliveryState, Message, MessageKind
from shared.ports import BoardRow

D: Final = DeliveryState


def released_story() -> Story:
    """Return a pour whose strip is released."""
    told = warm(26)
    told = told.copy()
    told.press("sign", operations=["strip"])
    return told


def stopped_story() -> Story:
    """Return the same, after somebody pressed STOP."""
    told = released_story()
    told.press("stop", "crew", why="crack at grid 7")
    return told


def show(bench: Bench, story: Story) -> None:
    """Let a bench show a story as it stands, and what was told of it to two people."""
    case = story.case
    # Looked at a minute ago, whatever the hour of the bench.
    now_ms = bench.clock.now()
    state = replace(case.state, as_of_ms=now_ms - MINUTE_MS, next_due_ms=now_ms + HOUR_MS)
    row = BoardRow(case.pour, case.bay.floor, case.gates, case.holds, state, case.stripping)
    board = bench.board
    board.of_site, board.rows, board.cases = case.site, [row], {case.pour.id: case}
    board.said = [
        Message(no, m.kind, m.pour, m.subject, m.epoch, m.at_ms, m.valid_until_ms, m.facts, no, HASH)
        for no, m in enumerate(story.messages, 1)
    ]
    board.sent = [
        Delivery(100 * m.no + n, m.no, RecipientId(who), 0, D.ACCEPTED, 1, called_ms=m.at_ms, accepted_ms=m.at_ms)
        for m in board.said
        for n, who in enumerate(("superintendent", "qc"))
    ]


def number_of(bench: Bench, kind: MessageKind, subject: str = STRIP) -> int:
    """Return the number of the newest message of a kind."""
    return [m.no for m in bench.board.said if m.kind is kind and m.subject == subject][-1]


def deliver(bench: Bench, no: int, state: DeliveryState, recipient: str = "qc", **changes: object) -> None:
    """Set the state of one delivery."""
    bench.board.sent = [
        replace(d, state=state, **changes) if (d.message, d.recipient) == (no, recipient) else d  # type: ignore[arg-type]
        for d in bench.board.sent
    ]
