from __future__ import annotations

import pytest

from ingest.gather import ALONE_S, ENOUGH, GATHER_S, Gather

NOW_S = 1000.0


def just_stored() -> Gather:
    gather = Gather()
    gather.stored(NOW_S)
    return gather


def test_the_first_message_and_one_after_a_pause_wait_for_no_other() -> None:
    assert Gather().until_s(1, NOW_S) == NOW_S
    assert just_stored().until_s(1, NOW_S + 2 * GATHER_S) == NOW_S + 2 * GATHER_S


def test_a_message_that_follows_upon_a_batch_waits_for_a_few_more() -> None:
    soon_s = NOW_S + GATHER_S / 2
    assert just_stored().until_s(1, soon_s) == pytest.approx(soon_s + GATHER_S)


def test_enough_messages_wait_for_no_more() -> None:
    gather = just_stored()
    assert gather.until_s(ENOUGH - 1, NOW_S) > NOW_S
    assert gather.until_s(ENOUGH, NOW_S) == NOW_S


def test_after_a_wait_in_vain_nothing_waits_for_a_while() -> None:
    gather = just_stored()
    gather.waited(0, NOW_S)
    gather.stored(NOW_S + ALONE_S - 0.001)
    assert gather.until_s(1, NOW_S + ALONE_S - 0.001) == NOW_S + ALONE_S - 0.001
    gather.stored(NOW_S + ALONE_S)
    assert gather.until_s(1, NOW_S + ALONE_S) > NOW_S + ALONE_S


def test_after_a_wait_that_brought_more_the_next_batch_waits_too() -> None:
    gather = just_stored()
    gather.waited(1, NOW_S)
    assert gather.until_s(1, NOW_S) > NOW_S
