"""When a pour is looked at again though nothing comes."""

from __future__ import annotations

import pytest
from cure_support import END_MS, plain

from cure.nextlook import FINISHED_APART_MS
from shared.models.base import HOUR_MS
from shared.models.decisions import GateState


@pytest.mark.parametrize(("behind_ms", "again_ms"), [(28_000, 28_000), (200, 1000), (3 * HOUR_MS, 3 * HOUR_MS)])
def test_a_reading_ahead_of_what_has_certainly_passed_is_looked_at_again_when_it_is_credited(
    behind_ms: int, again_ms: int
) -> None:
    story = plain(5)
    story.elapsed_ms = story.now_ms - END_MS - behind_ms
    due = story.round().state.next_due_ms
    # Before that a sensor falls silent, three intervals after it was heard last.
    assert due == min(story.now_ms + again_ms, story.now_ms + 3 * 15 * 60_000 + 1)


def test_readings_that_are_all_credited_need_no_look() -> None:
    story = plain(5)
    assert story.round().state.next_due_ms > story.now_ms + 30_000


def test_a_pour_of_which_all_is_done_is_looked_at_an_hour_apart() -> None:
    story = plain(34)
    story.press("sign", "engineer", operations=["strip", "walk"])
    for operation in ("strip", "walk"):
        story.press("under_way", "super", operation=operation)
        story.press("done", "super", operation=operation)
    story.run(40)
    silent_ms = story.round().state.next_due_ms - story.now_ms
    assert silent_ms < FINISHED_APART_MS, "the load is waited for, and its sensors must not fall silent"
    story.press("sign", "engineer", operations=["load"])
    story.press("under_way", "super", operation="load")
    story.press("done", "super", operation="load")
    assert {gate.state for gate in story.case.gates.values()} == {GateState.DONE}
    assert story.round().state.next_due_ms == story.now_ms + FINISHED_APART_MS
