from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from alerts_support import FACTS, make_told
from hypothesis import given
from hypothesis import strategies as st
from wording_support import GOLDEN, OPERATIONS, golden, texts, told

from alerts.gsm import BASIC, LONGEST
from alerts.wording import words
from shared.models.messages import MessageKind

EVERY = [
    (kind, operation, done)
    for kind in MessageKind
    for operation in OPERATIONS
    for done in ((False, True) if kind is MessageKind.WITHDRAWAL else (False,))
]
VERDICTS = {
    MessageKind.SIGN_OFF_WANTED: {"NOT RELEASED"},
    MessageKind.RELEASED: {"RELEASED"},
    MessageKind.MET_NOT_SIGNED: {"NOT SIGNED"},
    MessageKind.COLD_DELAY: {"COLD DELAY"},
    MessageKind.FREEZE_SUSPECTED: {"HOLD: FREEZE"},
    MessageKind.FREEZE_LOCKED: {"LOCKED:"},
    MessageKind.HOLD: {"HOLD:"},
    MessageKind.LOGGER_SILENT: {"NO READINGS:"},
    MessageKind.WITHDRAWAL: {"KEEP FORMS O", "KEEP OFF"},
    MessageKind.KEEP_OFF: {"KEEP OFF"},
    MessageKind.RELEASED_EARLY: {"TOO EARLY"},
}
"""What stands in the first 12 characters."""
PERMISSION = re.compile(
    r"(?<!not )(?<!wait for )\breleased?\b(?! of)|\bmay (?:be )?(?:strip|walk|load)|\bok\b|\bgo ahead\b|\bclear to\b",
    re.IGNORECASE,
)
FORBIDDEN = re.compile(r"\bsafe|\bok\b", re.IGNORECASE)
OPT_OUT = re.compile(r"^\W*(stop|stopall|end|quit|cancel|unsubscribe|arret|optout|revoke)\b", re.IGNORECASE)


@pytest.mark.parametrize(("kind", "operation", "done"), EVERY)
@pytest.mark.row("A12")
def test_the_short_text_fits_one_sms(kind: MessageKind, operation: str, done: bool) -> None:
    for text in texts(kind, operation, done):
        assert len(text.short) <= LONGEST, text.short
        assert set(text.short) <= BASIC, text.short


@pytest.mark.parametrize(("kind", "operation", "done"), EVERY)
@pytest.mark.row("A12")
def test_the_verdict_stands_in_the_first_twelve_characters(kind: MessageKind, operation: str, done: bool) -> None:
    for text in texts(kind, operation, done):
        for part in (text.short, text.subject, text.body):
            assert any(part[:12].startswith(v) for v in VERDICTS[kind]), part


@pytest.mark.parametrize(("kind", "operation", "done"), EVERY)
@pytest.mark.row("A12")
def test_no_beginning_of_a_text_reads_as_a_permission_that_it_is_not(
    kind: MessageKind, operation: str, done: bool
) -> None:
    if kind is MessageKind.RELEASED:
        return
    for text in texts(kind, operation, done):
        for part in (text.short, text.subject):
            cut = [part[:n] for n in range(1, len(part) + 1) if PERMISSION.search(part[:n])]
            assert not cut, cut[0]


PERMISSIONS = [
    (kind, operation) for kind in (MessageKind.RELEASED, MessageKind.MET_NOT_SIGNED) for operation in OPERATIONS
]
LIMITS = {"strip": ["no added load"], "walk": ["no added load"], "load": ["max ", "no wheels"]}


@pytest.mark.parametrize(("kind", "operation"), PERMISSIONS)
@pytest.mark.row("A12")
def test_no_beginning_of_a_permission_hides_what_limits_it(kind: MessageKind, operation: str) -> None:
    for text, excluded in zip(texts(kind, operation, False), [True] * 4 + [False] * 2 + [True] * 2, strict=True):
        for part in (text.short, text.subject, text.body):
            said = part.split("\n")[0]
            at = re.search(f": {operation or 'whole pour'} bay ", said)
            assert at is not None, said
            before = said[: at.start()]
            assert not re.search(r"\bbay\b", before)
            assert all(limit in before for limit in LIMITS.get(operation, [])), before
            assert ("xclu" in before) == excluded, before


@pytest.mark.parametrize("operation", OPERATIONS)
@pytest.mark.row("A12")
def test_a_release_names_what_is_still_shut_with_the_longest_names_too(operation: str) -> None:
    for text in texts(MessageKind.RELEASED, operation, False)[:4]:
        assert re.search(r"\. (?:NOT (?:released: )?(?:walk|load)|\d shut$)", text.short), text.short


@pytest.mark.parametrize(("kind", "operation", "done"), EVERY)
@pytest.mark.row("A12")
def test_no_text_ends_in_the_middle_of_a_word(kind: MessageKind, operation: str, done: bool) -> None:
    """Nothing was cut off at the end: the parts were chosen to fit."""
    for text in texts(kind, operation, done):
        assert re.search(
            r"(?:no\. \d+|walk|load|shut|UTC[-+]\d+(?::\d\d)?|wait for release|this cold|engineer|when clear|Withdrawn|"
            r"qc|e{32}|Owner: not known|By: not known|07:15|02:00|has come|not known)$",
            text.short,
        ), text.short


@pytest.mark.row("A12")
def test_every_text_reads_as_it_was_last_looked_through() -> None:
    """To accept new words: `python tests/support/wording_support.py > tests/alerts/references/words.txt`."""
    assert golden() == GOLDEN.read_text(encoding="utf-8")


@pytest.mark.parametrize(("kind", "operation", "done"), EVERY)
def test_no_text_says_that_anything_is_without_danger_or_begins_with_an_opt_out_word(
    kind: MessageKind, operation: str, done: bool
) -> None:
    for text in texts(kind, operation, done):
        for part in (text.short, text.subject, text.body):
            assert not FORBIDDEN.search(part)
            assert not OPT_OUT.search(part)


@pytest.mark.parametrize(("kind", "operation", "done"), EVERY)
def test_each_body_has_one_caution_and_it_stands_last(kind: MessageKind, operation: str, done: bool) -> None:
    for text in texts(kind, operation, done):
        lines = text.body.rstrip("\n").split("\n")
        assert sum(line.startswith("Caution: ") for line in lines) == 1
        assert lines[-1].startswith("Caution: ")
        assert text.body.count("engineer of record, the contract and local code govern") == 1


@pytest.mark.parametrize(("kind", "operation", "done"), EVERY)
@pytest.mark.row("A16", "O12")
def test_every_text_says_where_it_is_about_and_when(kind: MessageKind, operation: str, done: bool) -> None:
    text = words(told(kind, operation, done=done), repeat=False)
    for part in (text.short, text.subject, text.body):
        assert "2-b1-p1" in part
        assert "no. 41" in part
    assert re.search(r"ay 2-b1,? (?:pour )?2-b1-p1,? millrace,? 24 Nov 12:00 UTC-4,? no\. 41", text.short)
    assert "ay 2-b1, floor 2, pour 2-b1-p1, Millrace House" in text.subject
    assert "Millrace House" in text.subject
    for line in ("Site: Millrace House (millrace)", "Floor: 2", "Bay: 2-b1", "Pour: 2-b1-p1"):
        assert line in text.body.split("\n")
    assert "Hour: Mon 24 Nov 2025 12:00 UTC-04:00" in text.body


@pytest.mark.parametrize(("kind", "operation", "done"), EVERY)
@pytest.mark.row("M9")
def test_a_subject_is_one_line_of_ascii(kind: MessageKind, operation: str, done: bool) -> None:
    odd: dict[str, Any] = {
        "site": "Mühle\r\nBcc: x@y.example",
        "bay": "é\u2028z",
        "floor": "\u0000\u202e2",
        "exclusions": "a\nb",
    }
    for text in (*texts(kind, operation, done), words(told(kind, operation, **odd), repeat=False)):
        assert all(" " <= c <= "~" for c in text.subject), text.subject
        assert len(text.subject) < 300


@pytest.mark.parametrize(("kind", "operation", "done"), EVERY)
@pytest.mark.row("A3")
def test_a_repeat_says_which_number_it_repeats(kind: MessageKind, operation: str, done: bool) -> None:
    text = words(told(kind, operation, done=done), repeat=True)
    for part in (text.short, text.subject, text.body):
        assert "repeat of no. 41" in part


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=300),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=5,
)


@given(st.sampled_from(MessageKind), st.dictionaries(st.sampled_from(sorted(FACTS)), JSON), st.booleans())
def test_whatever_the_facts_a_text_results(kind: MessageKind, facts: dict[str, Any], repeat: bool) -> None:
    text = words(replace(make_told(kind), facts=facts), repeat=repeat)
    assert len(text.short) <= LONGEST
    assert set(text.short) <= BASIC
    assert any(text.short.startswith(v) for v in VERDICTS[kind])
    assert text.subject.isprintable()
    assert text.subject.isascii()
    assert "Caution: " in text.body
