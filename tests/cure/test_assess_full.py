"""On a full disk no reading is taken: nothing is released until there is room, and nothing is taken back."""

from __future__ import annotations

import pytest
from cure_support import plain

from shared.errors import ActRefusedError
from shared.models.base import LOAD, STRIP, WALK
from shared.models.decisions import GateState
from shared.models.messages import MessageKind

S = GateState


@pytest.mark.row("H1")
def test_on_a_full_disk_every_gate_that_is_not_released_shuts_at_once_and_nothing_is_withdrawn() -> None:
    story = plain(27)
    story.press("sign", operations=["strip"])
    assert [story.state(op) for op in (STRIP, WALK, LOAD)] == [S.RELEASED, S.MET, S.CURING]
    story.full = True
    # The round of the signature is the first that knows of it: nobody can sign what was met a moment ago.
    with pytest.raises(ActRefusedError, match="room on the service's disk"):
        story.press("sign", operations=["walk"])
    story.round()
    assert [story.state(op) for op in (STRIP, WALK, LOAD)] == [S.RELEASED, S.CURING, S.CURING]
    (finding,) = [f for f in story.case.state.verdicts[0].findings if f.rule == "room on the service's disk"]
    assert (finding.met, finding.lasting) == (False, False)
    # Readings that were taken before go on proving what they prove; it opens nothing.
    story.run(40)
    assert [story.state(op) for op in (STRIP, WALK, LOAD)] == [S.RELEASED, S.CURING, S.CURING]
    assert not {MessageKind.WITHDRAWAL, MessageKind.IN_DOUBT} & set(story.told())
    story.full = False
    story.run(41)
    assert story.state(WALK) is S.MET
    story.full = True
    story.press("stop", "super", why="full")
    assert story.state(STRIP) is S.WITHDRAWN
