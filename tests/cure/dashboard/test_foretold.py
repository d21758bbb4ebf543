"""What is foreseen of a pour stands on its page: hours, chances, what they wait for, what makes them wide, or why."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from pages_support import NOW, SITE, Bench, row
from store_support import BAY

from alerts.site_words import shipped
from cure.dashboard.api_views import pour_answer
from cure.dashboard.foretold import ForetoldView, foretold
from cure.dashboard.reader import Reader
from cure.dashboard.rendering import words
from shared.models.base import HOUR_MS, LOAD, STRIP, Json
from shared.models.decisions import GateState
from shared.models.people import Role
from shared.ports import BoardRow

HOURS: dict[str, Json] = {
    "early_ms": NOW + 20 * HOUR_MS,
    "even_ms": NOW + 26 * HOUR_MS,
    "cautious_ms": None,
    "wanted_ms": NOW + 24 * HOUR_MS,
    "wanted_chance": 0.37,
    "waits_for": {"clock hours": 0.1, "cold hours": 0.0, "strength": 0.9},
    "spread": {"weather": 0.6, "heat model": 0.25, "mix": 0.05},
}
NO_HEAT = "the weather (met.csv) ends too soon"


def of(state: GateState = GateState.CURING, none: str = "", **changes: Json) -> BoardRow:
    found = row(BAY, {STRIP: state, LOAD: GateState.DONE})
    kept = {STRIP: {**HOURS, **changes}, LOAD: HOURS}
    memory: dict[str, Any] = {
        "forecast": {"hours": {} if none else kept, "notes": [] if none else ["late"], "none": none}
    }
    return replace(found, state=replace(found.state, memory=memory))


def told(found: BoardRow, language: str = "en", *, stopped: bool = False) -> ForetoldView:
    reader = Reader(words()[language], shipped()[language], "SI", SITE.site.zone)
    return foretold(found, NOW, reader, stopped=stopped)


def test_hours_chance_reasons_and_width_are_told_of_what_waits() -> None:
    [(name, said)] = told(of()).hours
    assert name == "Strip"
    assert "not within five days" in said
    assert "as wanted: 37 %" in said
    assert "waits last for strength 90 %, clock hours 10 %" in said
    assert "its width comes from weather 60 %, heat model 25 %, mix 5 %" in said
    assert told(of()).notes == ("late",)
    assert "as wanted" not in told(of(wanted_ms=None, wanted_chance=None)).hours[0][1]
    assert "width" not in told(of(spread={"weather": 0.0, "mix": 0.0})).hours[0][1]


def test_nothing_is_told_of_what_is_met_of_what_nobody_judges_or_of_what_nobody_foresees() -> None:
    assert told(of(GateState.MET)).hours == ()
    assert told(of(), stopped=True) == ForetoldView()
    assert told(row(BAY)) == ForetoldView()


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("en", "Nothing is foreseen: the weather (met.csv) ends too soon"),
        ("fr", "Rien n'est prévu : "),
        ("es", "Nada se prevé: "),
    ],
)
def test_why_there_is_none_is_said_in_each_language(language: str, said: str) -> None:
    found = told(of(none=NO_HEAT), language)
    assert found.hours == ()
    assert found.notes[0].startswith(said)
    assert "{" not in "".join(told(of(), language).hours[0])


def test_the_page_of_a_bay_shows_it_and_no_word_of_a_release(bench: Bench) -> None:
    bench.board.rows = [of()]
    text = bench.signed_in(Role.VIEWER).get(f"/bay/{BAY}").text
    assert "Forecast: expected, not released" in text
    assert "its width comes from weather 60 %" in text
    # Not on paper: there it is old within hours, and the page would not be one sheet.
    assert '<section class="screen">\n<h2>Forecast: expected, not released' in text


def test_other_software_is_told_the_same_and_the_gate_stays_what_it_is() -> None:
    reader = Reader(words()["en"], shipped()["en"], "SI", SITE.site.zone)
    answer = pour_answer(of(), SITE, NOW, reader, doubted=False)
    by_name = {gate.operation: gate for gate in answer.gates}
    strip = by_name[STRIP].forecast
    assert strip is not None
    assert (strip.chance, strip.p90, strip.waits_for["strength"]) == (0.37, None, 0.9)
    assert (by_name[STRIP].released, by_name[STRIP].state) == (False, "curing")
    # What is done waits for nothing.
    assert by_name[LOAD].forecast is None
    assert (answer.no_forecast, answer.forecast_notes) == ("", ["late"])
    assert pour_answer(of(none=NO_HEAT), SITE, NOW, reader, doubted=False).no_forecast == NO_HEAT
    doubted = pour_answer(of(), SITE, NOW, reader, doubted=True)
    assert {gate.forecast for gate in doubted.gates} == {None}
