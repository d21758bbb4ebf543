"""The calendar feed, as a reader of calendars reads it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from icalendar import Calendar
from pages_support import NOW, SITE, row
from store_support import BAY

from alerts.site_words import shipped
from cure.dashboard.asked import Visitor
from cure.dashboard.calendar import FOLD, calendar
from cure.dashboard.choosing import reader_of
from shared.models.base import HOUR_MS, STRIP
from shared.models.decisions import GateState
from shared.ports import BoardRow

CAUTION = "Estimates; nothing is released by this,\nask the board \\ the engineer."
RELEASE_WORDS = ("released", "autorisé", "autorizado", "permiso")
NOT = ("NOT RELEASED", "NON AUTORISÉ", "SIN PERMISO")


def waiting(ahead_ms: int = HOUR_MS, **options: object) -> BoardRow:
    found = row(BAY, {STRIP: GateState.RELEASED}, **options)  # type: ignore[arg-type]  # as the builder takes them
    memory = {"expected": {op: {"expected_ms": NOW + ahead_ms} for op in found.gates}}
    return replace(found, state=replace(found.state, memory=memory))


def read(found: BoardRow, language: str = "en", *, doubted: bool = False) -> dict[str, dict[str, str]]:
    reader = reader_of(shipped(), SITE, Visitor(), {"slabhour_language": language}, "")
    text = calendar([found], SITE, NOW, reader, CAUTION, doubted=doubted)
    assert max(len(line.encode()) for line in text.split("\r\n")) <= FOLD
    events = Calendar.from_ical(text).walk("VEVENT")
    return {str(e["UID"]).split(".")[1].split("@")[0]: {k: str(v) for k, v in e.items()} for e in events}


@pytest.mark.parametrize("language", ["en", "fr", "es"])
def test_what_is_expected_never_reads_as_released_and_what_was_signed_is_not_there(language: str) -> None:
    events = read(waiting(), language)
    assert {name: e["STATUS"] for name, e in events.items()} == {
        "walk": "TENTATIVE",
        "load": "TENTATIVE",
    }
    for name in ("walk", "load"):
        said = events[name]["SUMMARY"]
        assert said.startswith({"en": "EXPECTED, NOT", "fr": "ATTENDU, NON", "es": "PREVISTO, SIN"}[language])
        left = said
        for words in NOT:
            left = left.replace(words, "")
        assert not any(word in left.casefold() for word in RELEASE_WORDS)
    assert all("ask the board \\ the engineer." in e["DESCRIPTION"] for e in events.values())


def test_what_is_in_doubt_past_or_kept_off_is_not_told() -> None:
    assert read(waiting(), doubted=True) == {}
    assert read(waiting(ahead_ms=0)) == {}


def test_a_name_cannot_begin_another_property() -> None:
    events = read(waiting())
    assert set(events["walk"]) == {
        *("UID", "DTSTAMP", "DTSTART", "DTEND", "STATUS", "TRANSP", "SUMMARY", "DESCRIPTION"),
    }
