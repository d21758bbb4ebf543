from __future__ import annotations

from typing import Any

import pytest
from store_support import T0
from wording_support import told

from alerts.wording import words
from shared.models.base import HOUR_MS
from shared.models.messages import MessageKind


def test_a_delay_against_a_wanted_hour_tells_the_shifts_and_what_would_save_it() -> None:
    text = words(told(MessageKind.COLD_DELAY, "strip"), repeat=False)
    for line in (
        "Wanted: Mon 24 Nov 2025 14:00 UTC-04:00",
        "Moved to a later shift: from Mon 24 Nov 2025 07:00 UTC-04:00 to Tue 25 Nov 2025 07:00 UTC-04:00",
        "What would save it: cover by Mon 24 Nov 2025 16:00 UTC-04:00",
    ):
        assert line in text.body.split("\n")
    brief: dict[str, Any] = {"bay": "b1", "pour": "p1", "site_id": "mill"}
    short = words(told(MessageKind.COLD_DELAY, "strip", expected_ms=None, **brief), repeat=False).short
    assert short.endswith(". No hour while it stays this cold. cover saves it")


def test_what_nobody_has_reckoned_helps_and_is_not_said_to_save() -> None:
    brief: dict[str, Any] = {"bay": "b1", "pour": "p1", "site_id": "mill", "saves": None, "helps": "cover"}
    text = words(told(MessageKind.COLD_DELAY, "strip", expected_ms=None, **brief), repeat=False)
    assert text.short.endswith(". cover helps")
    assert "save" not in text.body


def test_an_hour_that_moves_back_says_so_and_is_still_no_release() -> None:
    text = words(told(MessageKind.COLD_DELAY, "strip", moved="back", saves=None), repeat=False)
    assert "Moved back: from the shift of Mon 24 Nov" in text.body
    assert "Moved to a later shift" not in text.body
    assert text.short.startswith("COLD DELAY, not released: ")


def test_a_delay_without_a_wanted_hour_has_no_word_of_shifts() -> None:
    facts: dict[str, Any] = {"wanted_ms": None, "to_shift_ms": None, "saves": None}
    body = words(told(MessageKind.COLD_DELAY, "strip", **facts), repeat=False).body
    assert "shift" not in body
    assert "save" not in body


def test_what_saves_an_hour_is_said_as_it_is_when_it_has_no_words() -> None:
    body = words(told(MessageKind.COLD_DELAY, "strip", saves="a tent"), repeat=False, language="fr").body
    assert "Ce qui l'éviterait : a tent avant " in body


def test_too_hot_rounds_what_was_found_up_and_its_limit_down() -> None:
    text = words(told(MessageKind.TOO_HOT, "lg-01.1"), repeat=False)
    assert "lg-01.1: 71.3 °C (160.3 °F), limit 70.0 °C (158.0 °F)" in text.body
    assert text.short.startswith("TOO HOT, 71.3 C (160.3 F), limit 70.0 C (158.0 F): bay 2-b1")


def test_a_difference_is_converted_as_a_difference() -> None:
    body = words(told(MessageKind.TOO_STEEP, units="US"), repeat=False).body
    assert "Temperature difference: 39.7 °F (22.1 °C), limit 36.0 °F (20.0 °C)" in body
    assert "Reason: core against edge" in body


def test_freezing_ahead_says_from_when_how_likely_how_cold_and_what_to_do() -> None:
    text = words(told(MessageKind.FREEZING_AHEAD), repeat=False)
    assert text.short.startswith("FREEZE AHEAD from 24 Nov 22:00 UTC-4, protect it now: bay 2-b1")
    for line in ("Chance: 35 %", "Coldest concrete expected: 0.4 °C (32.8 °F)", "What to do: cover it before dark"):
        assert line in text.body.split("\n")
    unknown = words(told(MessageKind.FREEZING_AHEAD, chance_percent=None), repeat=False)
    assert "Chance" not in unknown.body + unknown.short


def test_drying_says_why_and_what_to_do() -> None:
    text = words(told(MessageKind.DRYING_RISK), repeat=False)
    assert "Reason: dry wind on a fresh surface\nWhat to do: fog or cover it\n" in text.body
    assert text.short.startswith("DRYING RISK, protect the surface: bay 2-b1")


@pytest.mark.parametrize(
    ("required", "said"), [(True, "is required: while it is in doubt"), (False, "is not required")]
)
def test_a_doubtful_sensor_says_whether_it_holds_anything_back(required: bool, said: str) -> None:
    text = words(told(MessageKind.LOGGER_DOUBTFUL, "lg-01.1", required=required), repeat=False)
    assert text.short.startswith("DOUBTFUL: lg-01.1, bay 2-b1")
    assert said in text.body
    assert "Reason: flat for six hours" in text.body


def test_expected_hours_of_a_delay_that_lies_far_ahead_carry_their_date() -> None:
    far = told(MessageKind.COLD_DELAY, "strip", expected_ms=T0 + 40 * 24 * HOUR_MS)
    assert "Exp. 3 Jan 12:00 UTC-4" in words(far, repeat=False).short
