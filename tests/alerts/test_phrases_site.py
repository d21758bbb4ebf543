from __future__ import annotations

import pytest
from wording_support import OF_SITE, told

from alerts.wording import words
from shared.catalogue import LANGUAGES
from shared.models.messages import MessageKind


@pytest.mark.parametrize("kind", sorted(OF_SITE))
def test_a_message_about_the_site_names_the_site_and_no_bay(kind: MessageKind) -> None:
    text = words(told(kind), repeat=False)
    assert "site millrace" in text.short
    assert "site Millrace House" in text.subject
    assert "\nBay: " not in text.body
    assert "\nPour: " not in text.body


def test_what_to_cover_tonight_says_by_when_which_first_and_whether_the_covers_suffice() -> None:
    text = words(told(MessageKind.COVER_TONIGHT), repeat=False)
    assert text.short.startswith("COVER by 24 Nov 16:00 UTC-4, 2-b1 first: site millrace")
    assert "Needs 121 m2 (1294 ft2), in stock 80 m2 (870 ft2)" in text.body
    assert "- bay 2-b1, pour 2-b1-p1: 120 m2 (1292 ft2), expected low -3.1 °C (26.5 °F), not covered" in text.body
    assert "- bay 2-b2, pour 2-b2-p1: not known, expected low not known, covered" in text.body


def test_low_batteries_are_listed_with_what_is_left() -> None:
    text = words(told(MessageKind.LOW_BATTERY), repeat=False)
    assert "- lg-01: 10 %\n- lg-02: not known\n" in text.body
    assert text.short.endswith(". lg-01: 10 %, lg-02: not known")


def test_a_message_that_was_not_delivered_names_whom_to_tell_and_is_no_permission() -> None:
    text = words(told(MessageKind.DELIVERY_FAILED), repeat=False)
    assert text.short.startswith("UNDELIVERED: no. 40 for crew, site millrace")
    assert "crew has not had no. 40. Tell them another way.\n" in text.body
    assert "Why: no such mailbox" in text.body
    assert "eleased" not in text.short + text.subject


def test_a_calibration_says_which_mix_why_and_what_to_do() -> None:
    body = words(told(MessageKind.CALIBRATION), repeat=False).body
    for line in ("CALIBRATION: c32-f", "Reason: last checked 90 days ago", "What to do: break two cylinders"):
        assert line in body.split("\n")


def test_a_service_in_doubt_neither_releases_nor_withdraws() -> None:
    text = words(told(MessageKind.IN_DOUBT), repeat=False)
    assert text.short.startswith("IN DOUBT, rely on no release, ask the engineer: site millrace")
    assert "neither confirmed nor withdrawn by this" in text.body
    assert "Reason: the clock jumped" in text.body


def test_the_morning_list_has_its_two_blocks_with_what_limits_each_release() -> None:
    text = words(told(MessageKind.MORNING_LIST), repeat=False)
    first, second = text.body.index("RELEASED, NOT DONE"), text.body.index("EXPECTED, NOT RELEASED")
    assert (
        first < text.body.index("bay 2-b1, pour 2-b1-p1, no added load, excluded: grid 7 edge: strip, since ") < second
    )
    assert "pour 2-b1-p1, max 1.9 kPa, spread load, no wheels, stacks or form bundles: load, since " in text.body
    assert "bay 2-b2, pour 2-b1-p1, NOT RELEASED: strip, expected Mon 24 Nov 2025 17:00 UTC-04:00; " in text.body
    assert "bay 2-b3, pour 2-b1-p1, NOT RELEASED: strip, expected hour not known; no calibration" in text.body
    assert "LOOK AT THESE FIRST\n- 2-b1: hold, freeze suspected" in text.body
    assert text.short.startswith("MORNING LIST, no release by itself: site millrace")
    assert "2 not done. 2 NOT RELEASED" in text.short


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_list_with_nothing_in_it_says_so(language: str) -> None:
    empty = told(MessageKind.MORNING_LIST, released=[], expected=[], look_first=[])
    body = words(empty, repeat=False, language=language).body
    assert body.count({"en": "\n- none\n", "fr": "\n- rien\n", "es": "\n- nada\n"}[language]) == 3


def test_a_handover_tells_what_is_under_way_held_and_unheard() -> None:
    body = words(told(MessageKind.HANDOVER), repeat=False).body
    for block in (
        "UNDER WAY\n- 2-b3: strip since 10:00\n",
        "HOLDS\n- 2-b2: conflicting readings, qc\n",
        "MESSAGES NOT CONFIRMED OR NOT DELIVERED\n- no. 40 to crew\n",
    ):
        assert block in body


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.row("A15")
def test_a_test_is_taken_for_nothing_else(language: str) -> None:
    """Whatever facts it was given: no operation, limit, finding or bay of it is told."""
    text = words(told(MessageKind.TEST, operation="strip"), repeat=False, language=language)
    real = words(told(MessageKind.RELEASED, "strip"), repeat=False, language=language)
    for part in (text.short, text.subject, text.body):
        assert part.startswith("TEST, ")
        for word in ("strip", "décoffr", "desencofr", "2-b1", "24.2 h", "grid 7", real.short.split(",")[0]):
            assert word not in part
    shared = set(text.body.split("\n")) & set(real.body.split("\n"))
    labels = {line.split(":")[0].strip() for line in shared if line}
    assert labels <= {"Message", "Mensaje", "Site", "Chantier", "Obra", "Hour", "Heure", "Hora"} | {
        "Check code",
        "Code de contrôle",
        "Código de control",
    }


def test_lines_of_the_board_are_told_in_the_reader_s_language() -> None:
    held = "bay 2-b2, pour 2-b2-p1, conflicting readings: owner qc: two values"
    message = told(MessageKind.HANDOVER, holds=[held], look_first=["clock in doubt: it jumped"])
    body = words(message, repeat=False, language="fr").body
    assert "- travée 2-b2, coulée 2-b2-p1, relevés contradictoires : responsable qc : two values\n" in body
    assert "- clock en doute : it jumped\n" in body
