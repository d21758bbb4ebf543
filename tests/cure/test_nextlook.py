"""When a pour is looked at again though nothing comes."""

from __future__ import annotations

import pytest
from cure_support import END_MS, plain

from shared.models.base import HOUR_MS


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
