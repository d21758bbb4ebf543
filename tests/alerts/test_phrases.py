from __future__ import annotations

import re
from dataclasses import replace

import pytest
from alerts_support import FACTS
from wording_support import LONG, OPERATIONS, texts, told

from alerts.wording import reasons, words
from shared.models.messages import PERMITS, MessageKind


def test_a_requirement_that_nobody_signed_is_never_called_released() -> None:
    for operation in OPERATIONS:
        text = words(told(MessageKind.MET_NOT_SIGNED, operation), repeat=False)
        for part in (text.short, text.subject, text.body):
            assert "released" not in part.lower()
        assert "requirement met" in text.body


def test_a_withdrawal_of_a_strip_keeps_the_forms_on() -> None:
    text = words(told(MessageKind.WITHDRAWAL, "strip"), repeat=False)
    assert text.short.startswith("KEEP FORMS ON, do not strip bay 2-b1, pour 2-b1-p1")
    assert text.short.endswith("no. 41, code AFUH. Withdrawn. Confirm when clear")
    assert "Any release of strip is withdrawn: keep to what stands above." in text.body
    assert "Cause: concrete below 5 degC since 02:00" in text.body


@pytest.mark.parametrize("kind", [MessageKind.WITHDRAWAL, MessageKind.KEEP_OFF])
def test_who_has_to_confirm_reads_how(kind: MessageKind) -> None:
    body = words(told(kind, "strip"), repeat=False).body
    assert "slabhour confirm 41 --who YOU. This repeats every 5 minutes until a person does." in body


def test_a_cause_stands_in_a_short_withdrawal_when_there_is_room() -> None:
    short = words(told(MessageKind.WITHDRAWAL, "walk", cause="STOP", bay="b1", pour="b1-1"), repeat=False).short
    assert short.endswith("Withdrawn: STOP. Confirm when clear")


def test_a_withdrawal_after_the_forms_are_off_asks_for_props_and_the_engineer() -> None:
    text = words(told(MessageKind.WITHDRAWAL, "strip", done=True), repeat=False)
    for part in (text.short, text.subject, text.body):
        assert part.startswith("KEEP OFF, prop, call the engineer: bay 2-b1")
    assert "under it only who props it" in text.body
    assert "forms stay on" not in text.body.lower()
    assert "keep forms on" not in text.body.lower()


@pytest.mark.parametrize("operation", ["walk", "load", "", "uncover"])
@pytest.mark.parametrize("done", [False, True])
def test_every_other_withdrawal_keeps_people_off(operation: str, done: bool) -> None:
    assert words(told(MessageKind.WITHDRAWAL, operation, done=done), repeat=False).short.startswith("KEEP OFF, ")


def test_keep_off_during_a_strip_does_not_speak_of_exclusions_or_of_forms_that_stay() -> None:
    text = words(told(MessageKind.KEEP_OFF, "strip"), repeat=False)
    assert "Keep off: 2-b1, 2-b2" in text.body
    assert "xclu" not in text.body
    assert "forms stay on" not in text.body
    assert "replaces" not in text.body, "the release of the strip that is under way still stands"


def test_keep_off_gives_its_cause_and_neither_findings_nor_a_list_of_what_is_shut() -> None:
    message = told(
        MessageKind.KEEP_OFF, "strip", cause="stripping is under way below", reason="", not_released=["load"]
    )
    text = words(message, repeat=False)
    assert reasons(message) == ["stripping is under way below"]
    assert "KEEP OFF 2-b1, 2-b2: stripping is under way below; bay 2-b1" in text.short
    assert "Cause: stripping is under way below" in text.body
    assert "counted hours" not in text.body
    assert "Not released" not in text.body, "without walk in it the list would read as if people might walk"
    assert "no release to walk on these bays or to load them holds" in text.body


def test_reasons_are_the_findings_of_what_was_judged_and_the_cause() -> None:
    delay = told(MessageKind.COLD_DELAY, "strip", reason="")
    assert reasons(delay) == [*FACTS["findings"], FACTS["cause"]]
    assert reasons(told(MessageKind.HOLD, "", findings=[], cause="")) == [FACTS["reason"]]
    assert reasons(replace(delay, facts={})) == []


def test_keep_off_names_every_bay_or_says_how_many_there_are() -> None:
    few = words(told(MessageKind.KEEP_OFF, "strip"), repeat=False).short
    many = words(told(MessageKind.KEEP_OFF, "strip", bays=[f"3-bay-{n}" for n in range(20)]), repeat=False).short
    assert few.startswith("KEEP OFF 2-b1, 2-b2: ")
    assert many.startswith("KEEP OFF 20 bays, see the board")
    alone = told(MessageKind.KEEP_OFF, "strip", bays=[])
    assert words(alone, repeat=False).short.startswith("KEEP OFF 2-b1: ")


@pytest.mark.parametrize("kind", sorted(PERMITS - {MessageKind.SIGN_OFF_WANTED}))
def test_a_load_message_carries_the_load_and_ends_with_how_it_must_lie(kind: MessageKind) -> None:
    body = words(told(kind, "load"), repeat=False).body
    assert body.endswith(
        "Construction load at most 1.0 kPa (20 psf): "
        "slab on bare joists, spread load, no wheels, stacks or form bundles\n"
    )
    for text in texts(kind, "load", False)[:6]:
        assert re.search(
            r", max [\d.]+ (?:kPa|psf),.* no wheels(?:/stacks|, stacks or form bundles).*: load bay ", text.short
        )


def test_a_construction_load_is_rounded_down_for_people() -> None:
    assert "max 19.9 kPa" in words(told(MessageKind.RELEASED, "load", load_kpa=19.97), repeat=False).short
    assert "max 20 psf" in words(told(MessageKind.RELEASED, "load", units="US"), repeat=False).short


@pytest.mark.parametrize("load", [None, float("nan"), float("inf"), "1.0", True])
def test_a_load_that_is_not_a_number_is_never_printed(load: object) -> None:
    text = words(told(MessageKind.RELEASED, "load", load_kpa=load), repeat=False)
    assert "Construction load not known: slab on bare joists" in text.body
    assert text.short.startswith("RELEASED, max not known, ")
    assert "kPa" not in text.short


def test_a_release_says_what_it_leaves_shut_where_it_does_not_hold_and_until_when() -> None:
    text = words(told(MessageKind.RELEASED, "strip"), repeat=False)
    assert "Not released: walk, load" in text.body
    assert "Excluded, this does not hold there: grid 7 edge, stair opening" in text.body
    assert "Valid until Mon 24 Nov 2025 21:00 UTC-04:00, void after it." in text.body
    assert "- counted hours: 24.2 h, needs 24.0 h - met" in text.body
    assert "Signed by: qc" in text.body
    assert text.short.startswith("RELEASED, no added load (excluded: grid 7 edge, stair opening): strip bay 2-b1, ")
    assert text.subject.startswith("RELEASED, no added load (excluded: grid 7 edge, stair opening): strip bay 2-b1, ")
    assert text.short.endswith(". 2 shut")
    roomy = words(told(MessageKind.RELEASED, "strip", exclusions="none", not_released=["load"]), repeat=False)
    assert roomy.short.startswith("RELEASED, no added load: strip bay 2-b1, pour 2-b1-p1, millrace, ")
    assert roomy.short.endswith("no. 41, code AFUH. NOT released: load")
    assert "Excluded: none" in roomy.body


def test_a_release_does_not_count_itself_among_what_is_shut() -> None:
    text = words(told(MessageKind.RELEASED, "walk", exclusions="none", not_released=["walk", "load"]), repeat=False)
    assert "Not released: load" in text.body
    assert "NOT released: load" in text.short
    alone = words(told(MessageKind.RELEASED, "walk", not_released=[]), repeat=False)
    assert "Not released: none" in alone.body
    assert "NOT" not in alone.short


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("stair opening", "stair opening"),
        ("not: grid 7 edge", "grid 7 edge"),
        ("Not:grid 7 edge", "grid 7 edge"),
        ("Excluded: stair opening", "stair opening"),
        ("not the stair opening", "not the stair opening"),
        ("not:", "not known"),
        ("", "not known"),
    ],
)
def test_exclusions_read_the_same_however_the_engineer_began_them(said: str, shown: str) -> None:
    text = words(told(MessageKind.RELEASED, "strip", exclusions=said), repeat=False)
    assert f"Excluded, this does not hold there: {shown}\n" in text.body
    for part in (text.short, text.subject, text.body):
        assert part.startswith(f"RELEASED, no added load (excluded: {shown}): strip bay ")


@pytest.mark.parametrize("none", ["none", "None", "NONE"])
def test_only_none_means_that_nothing_is_excluded(none: str) -> None:
    text = words(told(MessageKind.RELEASED, "strip", exclusions=none), repeat=False)
    assert "Excluded: none\n" in text.body
    assert "xclu" not in text.short + text.subject


def test_exclusions_that_do_not_fit_are_still_spoken_of() -> None:
    for kind in (MessageKind.RELEASED, MessageKind.MET_NOT_SIGNED):
        for operation in ("strip", "walk", "load"):
            text = words(told(kind, operation, 9_999_999, **LONG), repeat=True)
            assert " (exclusions): " in text.short
            assert " (exclusions apply): " in text.subject
            assert LONG["exclusions"] in text.body


def test_a_release_whose_exclusions_are_not_known_does_not_seem_to_have_none() -> None:
    message = told(MessageKind.RELEASED, "strip")
    facts = {key: value for key, value in message.facts.items() if key != "exclusions"}
    text = words(replace(message, facts=facts), repeat=False)
    assert "Excluded, this does not hold there: not known" in text.body
    assert "(excluded: not known)" in text.short


def test_a_delay_names_its_hours_and_says_to_wait() -> None:
    text = words(told(MessageKind.COLD_DELAY, "strip"), repeat=False)
    assert "By the plan's clock hours: Mon 24 Nov 2025 12:00 UTC-04:00" in text.body
    assert "Expected: Mon 24 Nov 2025 17:00 UTC-04:00, NOT RELEASED, wait for release" in text.body
    assert text.short.endswith("Exp. 24 Nov 17:00 UTC-4, wait for release")
    none = words(told(MessageKind.COLD_DELAY, "strip", expected_ms=None), repeat=False)
    assert "no hour can be named while it stays this cold" in none.body
    assert ". No hour while it stays this cold" in none.short


def test_an_expected_hour_is_rounded_to_the_later_minute_and_a_validity_to_the_earlier_one() -> None:
    late = FACTS["expected_ms"] + 1
    assert "17:01" in words(told(MessageKind.COLD_DELAY, "strip", expected_ms=late), repeat=False).body
    release = told(MessageKind.RELEASED, "strip")
    assert release.valid_until_ms is not None
    early = replace(release, valid_until_ms=release.valid_until_ms - 1)
    assert "Valid until Mon 24 Nov 2025 20:59" in words(early, repeat=False).body


def test_who_must_act_on_a_hold_is_said() -> None:
    text = words(told(MessageKind.HOLD, ""), repeat=False)
    for line in ("Reason: two values for 07:15", "Owner: qc (ann, bo)", "To lift it: say which reading is right"):
        assert line in text.body.split("\n")


def test_a_silent_sensor_is_named_with_its_newest_reading() -> None:
    text = words(told(MessageKind.LOGGER_SILENT, "lg-01.1"), repeat=False)
    assert text.short.startswith("NO READINGS: lg-01.1, bay 2-b1, ")
    assert text.short.endswith("Newest 24 Nov 11:00 UTC-4")
    assert "Newest reading: Mon 24 Nov 2025 11:00 UTC-04:00" in text.body
    assert "The sensor is required" in text.body
    assert "none has come" in words(told(MessageKind.LOGGER_SILENT, "lg-01.1", newest_ms=None), repeat=False).body


def test_a_request_to_sign_is_no_permission_and_says_whose_turn_it_is() -> None:
    text = words(told(MessageKind.SIGN_OFF_WANTED, "load"), repeat=False)
    assert text.short.startswith("NOT RELEASED, sign-off wanted: load bay 2-b1, ")
    assert text.short.endswith(". By: qc, engineer")
    assert "Caution: this is a request, not a release: nothing goes ahead before the release itself." in text.body
    assert "the requirement for the construction load is met, nothing else" not in text.body
