from __future__ import annotations

from cure_support import plain

from shared.models.base import LOAD, STRIP, WALK
from shared.models.messages import MessageKind


def test_each_message_of_a_round_knows_what_the_whole_round_left_shut() -> None:
    story = plain(27)
    story.press("sign", operations=["strip", "walk"])
    released = [m for m in story.messages if m.kind is MessageKind.RELEASED]
    assert [m.facts["not_released"] for m in released] == [[LOAD], [LOAD]]
    story.press("stop", "passer-by", why="crack")
    withdrawn = [m for m in story.messages if m.kind is MessageKind.WITHDRAWAL]
    assert [m.subject for m in withdrawn] == [STRIP, WALK, LOAD]
    assert [m.facts["not_released"] for m in withdrawn] == [[STRIP, WALK, LOAD]] * 3
