"""The defences of the alert path, and how to switch each off."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import pytest
from switching import Switches, rewritten

from alerts import delivery, lines, phrases, phrases_gates, sending, wording
from alerts.escalation import Further
from alerts.gsm import Part
from cure.gate import TABLE, GateEvent
from shared.models.decisions import GateState
from shared.models.messages import DeliveryState, MessageKind
from shared.ports import PourCase, Result
from shared.store.book_cure import SqlCureBook


def a_call_ends_when_its_gate_moves(patch: pytest.MonkeyPatch) -> None:
    """A4: what is being sent is read again, and given up when it is no longer true."""
    rewritten(patch, sending.Sending._still_true, ("return reread", "return lambda: True"))


def late_outcomes_are_followed_up(patch: pytest.MonkeyPatch) -> None:
    """A4: whatever of a release may have come out late is followed by its withdrawal."""
    patch.setattr("alerts.settling.overtaken", lambda *_: ())


def the_fence_before_each_attempt(patch: pytest.MonkeyPatch) -> None:
    """A5: a release goes only while its gate fits and its time is not over."""
    rewritten(patch, delivery.fence, ("if due.message.kind not in PERMITS:", "if True:"))


def repeats(patch: pytest.MonkeyPatch) -> None:
    """A6: a withdrawal is tried for ever, and repeats until a person confirms."""
    for module in ("delivery", "dispatcher", "escalation"):
        patch.setattr(f"alerts.{module}.INSISTENT", frozenset())


def escalation(patch: pytest.MonkeyPatch) -> None:
    """A6: a withdrawal that nobody answers goes to further people."""
    patch.setattr("alerts.dispatcher.further", lambda *_: Further((), exhausted=False))


def state_and_message_in_one_transaction(patch: pytest.MonkeyPatch) -> None:
    """A7: there is no moment at which a gate has moved and its message is not written."""
    record = SqlCureBook.record

    def in_two(book: SqlCureBook, case: PourCase, result: Result) -> bool:
        written = record(book, case, replace(result, messages=()))
        if written:
            book.messages_of_site(result.messages)
        return written

    patch.setattr(SqlCureBook, "record", in_two)


def the_verdict_first(patch: pytest.MonkeyPatch) -> None:
    """A12: no beginning of a text reads as a permission."""
    verdict, matter = "Part((phrase.verdict,))", 'Part((f"{phrase.matter} ",))'
    there = f"opening = ({verdict}, *phrase.limits, {matter})"
    rewritten(patch, wording._short, (there, f"opening = ({matter}, *phrase.limits, {verdict})"))


def a_word_says_what_it_replaces(patch: pytest.MonkeyPatch) -> None:
    """A13: who reads a release after its withdrawal finds that it does not count."""
    patch.setattr(lines, "_replaced", lambda _: [])


def the_latch(patch: pytest.MonkeyPatch) -> None:
    """A14: what was withdrawn is opened by a person and by nothing else."""
    patch.setitem(TABLE, (GateState.RELEASED, GateEvent.CONTRADICTED), GateState.CURING)
    patch.setitem(TABLE, (GateState.WITHDRAWN, GateEvent.SET_UP), GateState.CURING)


def words_of_a_tests_own(patch: pytest.MonkeyPatch) -> None:
    """A15: a test says so first, and in no words of a release."""
    patch.setitem(phrases.PHRASES, MessageKind.TEST, phrases_gates.released)


def the_place_in_every_text(patch: pytest.MonkeyPatch) -> None:
    """A16: every text names site, bay and pour."""
    patch.setattr(wording, "named", lambda *_: Part(("",)))
    patch.setattr(wording, "_place", lambda telling: [("", telling.unknown)] * 2)


def only_an_act_confirms(patch: pytest.MonkeyPatch) -> None:
    """A18: that a server took or fetched a text answers nothing."""
    pair = DeliveryState.CALLING, delivery.DeliveryEvent.ACCEPTED
    patch.setitem(delivery.TRANSITIONS, pair, DeliveryState.CONFIRMED)


SWITCHES: Final[Switches] = {
    "A4": (a_call_ends_when_its_gate_moves, late_outcomes_are_followed_up),
    "A5": the_fence_before_each_attempt,
    "A6": (repeats, escalation),
    "A7": state_and_message_in_one_transaction,
    "A12": the_verdict_first,
    "A13": (repeats, a_word_says_what_it_replaces),
    "A14": the_latch,
    "A15": words_of_a_tests_own,
    "A16": the_place_in_every_text,
    "A18": only_an_act_confirms,
}
