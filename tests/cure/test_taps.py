"""Covers and heating: an hour said afterwards takes credit away and never gives any."""

from __future__ import annotations

from typing import Any

import pytest
from cure_support import END_MS, Story, warm

from cure.credit import covered_spans, said_spans
from cure.forecast import FOR_EVER_MS, Span
from cure.foreseeable import heated_spans
from shared.errors import ActRefusedError
from shared.models.acts import instant
from shared.models.base import HOUR_MS, Ms


def hour(h: float) -> Any:
    return instant(END_MS + round(h * HOUR_MS))


def spans(story: Story) -> tuple[list[tuple[Ms, Ms]], list[tuple[Ms, Ms]]]:
    state = story.case.state
    return covered_spans(state), said_spans(state)


def test_a_cover_said_afterwards_counts_from_the_press_and_its_forecast_from_the_hour_said() -> None:
    story = warm(6)
    story.press("cover", "crew", on=True, happened=hour(2))
    ((credited, _),), ((said, _),) = spans(story)
    assert (credited, said) == (story.now_ms, END_MS + 2 * HOUR_MS)
    assert story.case.state.memory["covered"] is True
    story.press("cover", "crew", on=True)
    assert len(spans(story)[0]) == 1, "laid on twice is laid on once"


def test_a_cover_that_came_off_earlier_counts_no_longer_than_that() -> None:
    story = warm(4)
    story.press("cover", "crew", on=True)
    story.run(8)
    story.press("cover", "crew", on=False, happened=hour(5))
    assert spans(story) == ([(END_MS + 4 * HOUR_MS, END_MS + 5 * HOUR_MS)],) * 2
    assert story.case.state.memory["covered"] is False
    # On as it is said before it was entered: not one hour of it counts.
    other = warm(4)
    other.press("cover", "crew", on=True, happened=hour(2))
    other.run(6)
    other.press("cover", "crew", on=False, happened=hour(3))
    assert spans(other) == ([(other.now_ms - 2 * HOUR_MS,) * 2], [(END_MS + 2 * HOUR_MS, END_MS + 3 * HOUR_MS)])


def test_heating_drives_the_forecast_where_somebody_knows_to_what() -> None:
    story = warm(6)
    story.press("heat", "crew", on=True, happened=hour(1))
    story.press("heat", "crew", on=True, below_c=12.0)
    result = story.press("heat", "crew", on=False, happened=instant(story.now_ms))
    assert result.log[-1].body["kind"] == "heat"
    assert list(heated_spans(story.case)) == [Span(story.now_ms, story.now_ms, 12.0)]
    assert story.case.state.memory["heated"][0] == [END_MS + HOUR_MS, story.now_ms, None]
    story.press("heat", "crew", on=True, below_c=9.0)
    assert list(heated_spans(story.case))[-1] == Span(story.now_ms, FOR_EVER_MS, 9.0)


@pytest.mark.parametrize("kind", ["cover", "heat"])
@pytest.mark.parametrize("said_h", [-3.0, 4.5], ids=["before the pour", "in the future"])
def test_an_hour_that_cannot_be_is_refused(kind: str, said_h: float) -> None:
    story = warm(4)
    with pytest.raises(ActRefusedError, match="after the start"):
        story.press(kind, "crew", on=True, happened=hour(said_h))


@pytest.mark.parametrize("kind", ["cover", "heat"])
def test_nothing_is_entered_before_what_is_entered_already(kind: str) -> None:
    story = warm(4)
    story.press(kind, "crew", on=True, happened=hour(3))
    with pytest.raises(ActRefusedError, match="something later"):
        story.press(kind, "crew", on=False, happened=hour(2))
    with pytest.raises(ActRefusedError, match="takes one of"):
        story.press(kind, "viewer", on=False)
