from __future__ import annotations

import re
from dataclasses import replace

import pytest
from wording_golden import several
from wording_support import LONG, told

from alerts.gsm import BASIC, LONGEST
from alerts.wording import words, words_together
from shared.catalogue import LANGUAGES
from shared.models.base import HOUR_MS
from shared.models.messages import Message, MessageKind


def permits(
    count: int, operation: str = "strip", kind: MessageKind = MessageKind.RELEASED, **facts: object
) -> list[Message]:
    return [
        told(
            kind,
            operation,
            no=41 + n,
            **{"bay": f"2-b{n + 1}", "pour": f"2-b{n + 1}-p1", "exclusions": "none", **facts},
        )
        for n in range(count)
    ]


def test_one_message_reads_as_it_does_alone() -> None:
    (alone,) = permits(1)
    assert words_together([alone], repeat=True, language="fr") == words(alone, repeat=True, language="fr")


def test_several_bays_are_one_text_with_all_bays_and_numbers() -> None:
    text = words_together(permits(2), repeat=False)
    assert text.short.startswith("RELEASED, no added load: strip bays 2-b1, 2-b2, millrace, 24 Nov 12:00 UTC-4, no. 41")
    assert text.subject == "RELEASED, no added load: strip bays 2-b1, 2-b2, Millrace House - no. 41, 42"
    for n in (1, 2):
        assert f"RELEASED, no added load: strip bay 2-b{n} - no. {40 + n}\n" in text.body
        assert f"- Pour: 2-b{n}-p1\n" in text.body
    assert text.body.count("Check code: AFUH") == 2
    assert text.body.count("Log line 77") == 2


def test_a_bay_with_exclusions_is_not_hidden_and_its_exclusions_stand_with_it() -> None:
    text = words_together(several(), repeat=False)
    for part in (text.short, text.subject, text.body):
        assert part.startswith("RELEASED, no added load (exclusions apply): strip bays 2-b1, 2-b2, 2-b3")
    assert "RELEASED, no added load (excluded: grid 7 edge): strip bay 2-b1 - no. 41\n" in text.body
    assert "Excluded, this does not hold there: grid 7 edge" in text.body


def test_of_several_loads_the_lowest_stands_for_all() -> None:
    messages = [*permits(1, "load", load_kpa=2.0), told(MessageKind.RELEASED, "load", no=50, bay="2-b9", load_kpa=1.49)]
    text = words_together(messages, repeat=False)
    assert text.short.startswith("RELEASED, max 1.4 kPa, ")
    assert "max 2.0 kPa" in text.body, "each bay has its own"
    assert "Construction load at most 1.4 kPa" in text.body
    unknown = [*messages, told(MessageKind.RELEASED, "load", no=51, bay="2-b8", load_kpa=None)]
    assert words_together(unknown, repeat=False).short.startswith("RELEASED, max not known, ")


def test_strip_and_walk_of_the_same_bays_are_told_in_one() -> None:
    messages = [*permits(2, not_released=["walk", "load"]), *permits(2, "walk", not_released=["load"])]
    text = words_together(messages, repeat=False)
    assert text.short.startswith("RELEASED, no added load: strip, walk bays 2-b1, 2-b2, ")
    assert "walk" not in text.short.partition("no. 41")[2], "released of every bay here: not among what is shut"
    assert "not while forms are being stripped below" in text.body.split("\n")[-2]


def test_an_operation_that_is_not_released_of_every_bay_is_told_with_its_own_bays() -> None:
    text = words_together([*permits(2), *permits(1, "walk")], repeat=False)
    assert text.subject.startswith("RELEASED, no added load: strip bays 2-b1, 2-b2; walk bays 2-b1, ")
    assert text.short.startswith("RELEASED, no added load: strip bays 2-b1, 2-b2; walk bays 2-b1, ")


def test_a_load_beside_other_operations_leaves_the_limits_to_each() -> None:
    text = words_together([*permits(1), *permits(1, "load")], repeat=False)
    assert text.short.startswith("RELEASED, each with its own limits, see the board: strip, load bays 2-b1, ")


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("operation", ["strip", "load"])
@pytest.mark.parametrize("kind", [MessageKind.RELEASED, MessageKind.MET_NOT_SIGNED, MessageKind.SIGN_OFF_WANTED])
@pytest.mark.row("A12")
def test_many_bays_with_the_longest_names_fit_one_sms(kind: MessageKind, operation: str, language: str) -> None:
    bays = [{**LONG, "bay": f"{'b' * 29}-{n:02}", "pour": f"p-{n}"} for n in range(40)]
    messages = [told(kind, operation, no=9_999_900 + n, **bay) for n, bay in enumerate(bays)]
    for repeat in (False, True):
        text = words_together(messages, repeat=repeat, language=language)
        assert len(text.short) <= LONGEST
        assert set(text.short) <= BASIC
        assert re.search(r" 40 (?:bays|travées|paños)", text.short), text.short
        assert re.search(r"9999900 AFUH(?:\+39| and 39 more| et 39 autres| y 39 mas)", text.short), text.short
        if kind is not MessageKind.SIGN_OFF_WANTED:
            assert "xclu" in text.short.partition(" 40 ")[0]
        assert all(str(message.no) in text.body for message in messages)


def test_a_repeat_of_several_says_so() -> None:
    text = words_together(permits(2), repeat=True)
    for part in (text.short, text.subject, text.body):
        assert "repeat of no. 41" in part


def test_the_earliest_end_of_all_is_the_one_that_is_told() -> None:
    late, early = permits(2, not_released=[], site_id="mill")
    assert late.valid_until_ms is not None
    early = replace(early, valid_until_ms=late.valid_until_ms - 6 * HOUR_MS)
    text = words_together([late, early], repeat=False)
    assert text.short.endswith(". Until 24 Nov 15:00 UTC-4")
    assert "Valid until Mon 24 Nov 2025 21:00" in text.body
    assert "Valid until Mon 24 Nov 2025 15:00" in text.body


@pytest.mark.parametrize(
    "messages",
    [
        [],
        [*permits(1), told(MessageKind.SIGN_OFF_WANTED, "strip", no=50)],
        [told(MessageKind.WITHDRAWAL, "strip"), told(MessageKind.WITHDRAWAL, "strip", no=50)],
        [*permits(1), *permits(1, site_id="elsewhere")],
    ],
)
def test_only_permits_of_one_kind_and_site_are_told_together(messages: list[Message]) -> None:
    with pytest.raises(ValueError, match="permits of one kind and site"):
        words_together(messages, repeat=False)
