from __future__ import annotations

import re
from dataclasses import replace

import pytest
from alerts_support import FACTS
from wording_support import LONG, OPERATIONS, texts, told

from alerts.wording import words
from shared.models.messages import PERMITS, MessageKind


def test_a_requirement_that_nobody_signed_is_never_called_released() -> None:
    for operation in OPERATIONS:
        text = words(told(MessageKind.MET_NOT_SIGNED, operation), repeat=False)
        for part in (text.short, text.subject, text.body):
            assert "released" not in part.lower()
        assert "requirement met" in text.body


def test_a_withdrawal_of_a_strip_keeps_the_forms_on() -> None:
    text = words(told(MessageKind.WITHDRAWAL, "strip"), repeat=False)
    assert text.short.startswith("KEEP FORMS ON, do not strip: ")
    assert "Cause: concrete below 5 degC since 02:00" in text.body
    assert 'Answer "area clear"' in text.body


def test_a_withdrawal_after_the_forms_are_off_asks_for_props_and_the_engineer() -> None:
    text = words(told(MessageKind.WITHDRAWAL, "strip", done=True), repeat=False)
    for part in (text.short, text.subject, text.body):
        assert part.startswith("KEEP OFF, prop, call the engineer")
    assert "forms stay on" not in text.body.lower()
    assert "keep forms on" not in text.body.lower()


@pytest.mark.parametrize("operation", ["walk", "load", "", "uncover"])
@pytest.mark.parametrize("done", [False, True])
def test_every_other_withdrawal_keeps_people_off(operation: str, done: bool) -> None:
    assert words(told(MessageKind.WITHDRAWAL, operation, done=done), repeat=False).short.startswith("KEEP OFF, ")


def test_keep_off_during_a_strip_does_not_speak_of_exclusions_or_of_forms_that_stay() -> None:
    text = words(told(MessageKind.KEEP_OFF, "strip"), repeat=False)
    assert "Keep off: 2-b1, 2-b2" in text.body
    assert "Exclusions" not in text.body
    assert "forms stay on" not in text.body
    assert "replaces" not in text.body, "the release of the strip that is under way still stands"


def test_keep_off_names_every_bay_or_says_how_many_there_are() -> None:
    few = words(told(MessageKind.KEEP_OFF, "strip"), repeat=False).short
    many = words(told(MessageKind.KEEP_OFF, "strip", bays=[f"3-bay-{n}" for n in range(20)]), repeat=False).short
    assert "Bays: 2-b1, 2-b2" in few
    assert "20 bays, see the board" in many


@pytest.mark.parametrize("kind", sorted(PERMITS - {MessageKind.SIGN_OFF_WANTED}))
def test_a_load_message_carries_the_load_and_ends_with_how_it_must_lie(kind: MessageKind) -> None:
    body = words(told(kind, "load"), repeat=False).body
    assert body.endswith(
        "Construction load at most 1.0 kPa (20 psf): "
        "slab on bare joists, spread load, no wheels, stacks or form bundles\n"
    )
    for text in texts(kind, "load", False)[:6]:
        assert re.search(r"load(?: met)?, max [\d.]+ (?:kPa|psf)\.", text.short)
        assert re.search(r"[Nn]o wheels(?:/stacks|, stacks or form bundles)$", text.short)


def test_a_construction_load_is_rounded_down_for_people() -> None:
    assert "max 19.9 kPa" in words(told(MessageKind.RELEASED, "load", load_kpa=19.97), repeat=False).short
    assert "max 20 psf" in words(told(MessageKind.RELEASED, "load", units="US"), repeat=False).short


@pytest.mark.parametrize("load", [None, float("nan"), float("inf"), "1.0", True])
def test_a_load_that_is_not_a_number_is_never_printed(load: object) -> None:
    text = words(told(MessageKind.RELEASED, "load", load_kpa=load), repeat=False)
    assert "Construction load as the engineer's document says" in text.body
    assert "kPa" not in text.short


def test_a_release_says_what_it_leaves_shut_where_it_does_not_hold_and_until_when() -> None:
    text = words(told(MessageKind.RELEASED, "strip"), repeat=False)
    assert "Not released: walk, load" in text.body
    assert "Exclusions, where this does not hold: grid 7 edge, stair opening" in text.body
    assert "Valid until Mon 24 Nov 2025 21:00 UTC-04:00, void after it." in text.body
    assert "- counted hours: 24.2 h, needs 24.0 h - met" in text.body
    assert "Signed by: qc" in text.body
    assert text.short.startswith("RELEASED: strip, no added load.")
    assert "Not: grid 7 edge, stair opening" in text.short


def test_exclusions_that_do_not_fit_are_still_spoken_of() -> None:
    for kind in (MessageKind.RELEASED, MessageKind.MET_NOT_SIGNED):
        for operation in ("strip", "walk", "load"):
            assert "Exclusions apply" in words(told(kind, operation, 9_999_999, **LONG), repeat=True).short


def test_a_release_whose_exclusions_are_not_known_does_not_seem_to_have_none() -> None:
    message = told(MessageKind.RELEASED, "strip")
    facts = {key: value for key, value in message.facts.items() if key != "exclusions"}
    text = words(replace(message, facts=facts), repeat=False)
    assert "Exclusions, where this does not hold: not known" in text.body
    assert "Not: not known" in text.short


def test_a_delay_names_its_hours_and_says_to_wait() -> None:
    text = words(told(MessageKind.COLD_DELAY, "strip"), repeat=False)
    assert "By the plan's clock hours: Mon 24 Nov 2025 12:00 UTC-04:00" in text.body
    assert "Expected: Mon 24 Nov 2025 17:00 UTC-04:00, NOT RELEASED, wait for release" in text.body
    assert text.short.endswith("Exp. 24 Nov 17:00 UTC-4, wait for release")
    none = words(told(MessageKind.COLD_DELAY, "strip", expected_ms=None), repeat=False)
    assert "no hour can be named while it stays this cold" in none.body
    assert none.short.endswith("No hour while it stays this cold")


def test_an_expected_hour_is_rounded_to_the_later_minute_and_a_validity_to_the_earlier_one() -> None:
    late = FACTS["expected_ms"] + 1
    assert "17:01" in words(told(MessageKind.COLD_DELAY, "strip", expected_ms=late), repeat=False).body
    release = told(MessageKind.RELEASED, "strip")
    assert release.valid_until_ms is not None
    early = replace(release, valid_until_ms=release.valid_until_ms - 1)
    assert "Valid until Mon 24 Nov 2025 20:59" in words(early, repeat=False).body


def test_who_must_act_on_a_hold_is_said() -> None:
    text = words(told(MessageKind.HOLD, ""), repeat=False)
    for line in ("Reason: two values for 07:15", "Owner: qc", "To lift it: say which reading is right"):
        assert line in text.body.split("\n")


def test_a_silent_sensor_is_named_with_its_newest_reading() -> None:
    text = words(told(MessageKind.LOGGER_SILENT, "lg-01.1"), repeat=False)
    assert text.short.startswith("NO READINGS: lg-01.1.")
    assert "Newest reading: Mon 24 Nov 2025 11:00 UTC-04:00" in text.body
    assert "The sensor is required" in text.body
    assert "none has come" in words(told(MessageKind.LOGGER_SILENT, "lg-01.1", newest_ms=None), repeat=False).body
