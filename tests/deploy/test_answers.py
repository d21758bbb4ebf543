"""A confirmation answers in a replay what it answered when it was recorded, whatever that is numbered."""

from __future__ import annotations

from dataclasses import replace

import pytest
from store_support import POUR, T0

from deploy.answers import named, renumbered, with_names
from shared.errors import ActRefusedError
from shared.models.acts import Confirm, Silence, instant
from shared.models.messages import Message, MessageKind

KEPT_ON = Message(7, MessageKind.WITHDRAWAL, POUR, "strip", 3, T0, None, {})
CONFIRM = Confirm(at=instant(T0), who="super", message=7)
SILENCE = Silence(at=instant(T0), who="super", until=instant(T0 + 1), why="crane inspection")


def test_what_was_answered_is_found_again_by_its_name() -> None:
    recorded, other = with_names([CONFIRM, SILENCE], [KEPT_ON])
    assert (named(KEPT_ON), other) == ("withdrawal 2-b1-p1 strip 3", SILENCE)
    assert isinstance(recorded, Confirm)
    assert (recorded.message, recorded.answered) == (7, "withdrawal 2-b1-p1 strip 3")
    # A forecast has told something before it, and a later withdrawal is another one.
    here = [replace(KEPT_ON, no=7, epoch=2), replace(KEPT_ON, no=9), replace(KEPT_ON, no=12, epoch=4)]
    again = renumbered(recorded, lambda: here)
    assert isinstance(again, Confirm)
    assert again.message == 9
    assert (renumbered(CONFIRM, lambda: here), renumbered(SILENCE, lambda: here)) == (CONFIRM, SILENCE)


def test_it_answers_no_other_message_when_its_own_was_not_told() -> None:
    (recorded,) = with_names([CONFIRM], [KEPT_ON])
    with pytest.raises(ActRefusedError, match="was not told"):
        renumbered(recorded, lambda: [replace(KEPT_ON, epoch=4)])
