from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.unkept import HELD, LINE_S, OF_ONE_TOPIC, Unkept


class Clock:
    """Seconds that go on when they are told to."""

    def __init__(self) -> None:
        self.s = 1000.0

    def __call__(self) -> float:
        return self.s


@pytest.mark.row("N6")
def test_one_topic_has_its_share_of_the_room_and_gets_it_back() -> None:
    unkept = Unkept(Clock())
    for n in range(OF_ONE_TOPIC):
        assert unkept.room("loud", n)
        unkept.waits("loud")
    assert not unkept.room("loud", OF_ONE_TOPIC)
    assert unkept.room("quiet", OF_ONE_TOPIC)
    assert not unkept.room("quiet", HELD)
    unkept.stored("loud")
    assert unkept.room("loud", OF_ONE_TOPIC)


@pytest.mark.row("M5")
def test_a_line_is_left_only_when_for_too_long_it_was_never_empty_and_most_of_it_is_kept_by_nobody() -> None:
    clock = Clock()
    unkept = Unkept(clock)
    for _ in range(3):
        unkept.came("loud", kept=False)
    clock.s += LINE_S - 0.1
    assert unkept.flood() is None
    clock.s += 0.2
    assert unkept.flood() == "loud"
    for _ in range(3):
        unkept.came("backlog", kept=True)
    assert unkept.flood() is None, "what waited at the broker for us is no flood"
    unkept.came("loud", kept=False)
    assert unkept.flood() == "loud"
    unkept.emptied()
    assert unkept.flood() is None


@given(st.lists(st.sampled_from(["loud", "a", "b", "c"])))
def test_the_topic_that_more_than_half_of_them_name_is_the_one_that_is_told(topics: list[str]) -> None:
    clock = Clock()
    unkept = Unkept(clock)
    for topic in [*topics, *["loud"] * (len(topics) + 1)]:
        unkept.came(topic, kept=False)
    clock.s += LINE_S
    assert unkept.flood() == "loud"
