"""The defences against slips, haste and short cuts, and how to switch each off."""

from __future__ import annotations

from typing import Final

import pytest
from switching import Switches, rewritten

from alerts import wording
from cure import assess, entered, press
from cure.gate import TABLE, GateEvent
from shared.models.decisions import GateState


def another_mix_on_the_ticket_is_a_doubt(patch: pytest.MonkeyPatch) -> None:
    """O1: who checks a pour holds the ticket against what was entered."""
    rewritten(patch, entered.second_check, ("if act.mix != pour.mix:", "if False:"))


def a_mix_is_changed_by_two(patch: pytest.MonkeyPatch) -> None:
    """O1: nobody alone says that it was a faster one."""
    patch.setattr(entered, "check_second", lambda *_: None)


def an_earlier_end_takes_two(patch: pytest.MonkeyPatch) -> None:
    """O2: nobody alone lets the clock start earlier."""
    alone = "if earlier and not is_second(case.site, act, act.second_person, DESK):"
    rewritten(patch, entered.changed_pour, (alone, "if False:"))


def the_last_concrete_counts(patch: pytest.MonkeyPatch) -> None:
    """O3: the clock starts at the last concrete, of a bay placed against it too."""
    patch.setattr("cure.clockstart._against", lambda *_: False)


def a_limit_is_written_by_two(patch: pytest.MonkeyPatch) -> None:
    """O6: nobody alone writes a requirement."""
    patch.setattr("cure.acts.check_second", lambda *_: None)


def a_limit_is_read_in_words(patch: pytest.MonkeyPatch) -> None:
    """O6: a slip of the hand shows where the number stands in a sentence."""
    patch.setattr("cure.acts.sentence", lambda _: "")


def nothing_but_evidence_opens(patch: pytest.MonkeyPatch) -> None:
    """O7: a signature on what is not met is none."""
    patch.setitem(TABLE, (GateState.CURING, GateEvent.SIGNED), GateState.RELEASED)
    rewritten(patch, press._sign, ("gate.state is not GateState.MET or not verdict.met", "False"))


def two_signatures_are_two_people(patch: pytest.MonkeyPatch) -> None:
    """O8: who has signed signs no second time."""
    rewritten(patch, press._sign, ("if act.who in gate.signers:", "if False:"))
    patch.setattr(press, "_check_turn", lambda *_: None)


def a_signature_is_judged_at_the_press(patch: pytest.MonkeyPatch) -> None:
    """O9: what was met when the page was drawn is judged again before it is signed."""
    judged = "work.verdicts = {op: _verdict(work, op) for op in work.in_force}"
    seen = "work.verdicts = {v.operation: v for v in case.state.verdicts} if act else " + judged.partition("= ")[2]
    stepped = "for operation in work.in_force:\n        _bring_up_to_date"
    not_stepped = stepped.replace("in_force", "in_force if not act else ()")
    rewritten(patch, assess.assess, (judged, seen), (stepped, not_stepped))


def every_text_names_its_pour(patch: pytest.MonkeyPatch) -> None:
    """O12: a bay's name is used again; a pour's is not."""
    pour = "named(str(telling.message.pour))"
    rewritten(patch, wording._short, (pour, 'named("")'))


def what_is_made_easier_is_held(patch: pytest.MonkeyPatch) -> None:
    """O14: a sensor less, or a requirement that asks for less, is the engineer's business."""
    patch.setattr(assess, "lowered", lambda _: None)


SWITCHES: Final[Switches] = {
    "O1": (another_mix_on_the_ticket_is_a_doubt, a_mix_is_changed_by_two),
    "O2": an_earlier_end_takes_two,
    "O3": the_last_concrete_counts,
    "O6": (a_limit_is_written_by_two, a_limit_is_read_in_words),
    "O7": nothing_but_evidence_opens,
    "O8": two_signatures_are_two_people,
    "O9": a_signature_is_judged_at_the_press,
    "O12": every_text_names_its_pour,
    "O14": what_is_made_easier_is_held,
}
