"""Before the pour, on a page: one case, its hours and its chart; nothing is changed."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from typing import Any

import pytest
from cure_support import make_case
from pages_support import Bench, Browser

from shared.models.people import Role

ASKED = {
    "bay": "2-b1", "start": "2025-11-27T08:00", "operation": "strip", "wanted": "2025-11-28T16:00", "cement": "I",
    "pour_h": "2", "placing_c": "18", "thickness_mm": "", "binder_kg": "360", "water_binder": "0,5", "low_c": "10",
    "high_c": "18", "wind_m_s": "3", "cover_r": "0.35", "cover_for_h": "", "below_c": "",
}  # fmt: skip


@pytest.fixture
def planning(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> Browser:
    """Lend a superintendent's browser over pages whose mix has a calibration."""
    monkeypatch.setattr(type(bench.board), "edits", lambda *_: (), raising=False)
    calibration = make_case().calibration
    assert calibration is not None
    parts = bench.parts()
    object.__setattr__(parts, "calibrations", {"c32-f": calibration})
    monkeypatch.setattr(bench, "parts", lambda: parts)
    return bench.signed_in(Role.SUPERINTENDENT)


def ask(browser: Browser, **changed: str) -> Any:
    query = "&".join(f"{name}={value}" for name, value in {**ASKED, **changed}.items())
    return browser.get(f"/plan?{query}")


def test_a_case_is_answered_with_hours_a_chart_and_what_frost_is_likely(planning: Browser, bench: Bench) -> None:
    empty = planning.get("/plan")
    assert empty.status_code == 200
    assert "Expected, not released" not in empty.text
    answer = ask(planning)
    assert answer.status_code == 200, answer.text
    for said in (
        "Expected, not released",
        "Strip",
        "Walk",
        "Load",
        "Frost in young concrete: 0 %",
        "Met by Fri 28 Nov",
    ):
        assert said in answer.text
    start = answer.text.index('<svg xmlns="http')
    ET.fromstring(answer.text[start : answer.text.index("</svg>", start) + 6])  # noqa: S314 - a page of ours
    # What was asked of stands in the form again.
    assert 'value="360"' in answer.text
    assert bench.acts == []


def test_every_fault_of_the_form_is_told_and_nothing_is_reckoned(planning: Browser) -> None:
    answer = ask(planning, binder_kg="", placing_c="nan", start="soon", bay="9-b9", high_c="5")
    assert answer.status_code == 422
    for said in (
        "Binder, kg/m³: a number from 100 to 800",
        "Concrete as placed, °C: a number from 0 to 40",
        "First concrete: a date and an hour",
        "Bay: one of those in the list",
        "The coldest hour is not warmer than the warmest.",
    ):
        assert said in answer.text
    assert "<svg xmlns" not in answer.text


def test_a_mix_without_a_calibration_is_refused(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(type(bench.board), "edits", lambda *_: (), raising=False)
    answer = ask(bench.signed_in(Role.QC))
    assert answer.status_code == 422
    assert "mix c32-f has no calibration" in answer.text


@pytest.mark.parametrize(("language", "said"), [("fr", "Prévu, non libéré"), ("es", "Previsto, no liberado")])
def test_it_is_said_in_each_language(planning: Browser, language: str, said: str) -> None:
    planning.cookies.set("slabhour_language", language)
    assert said in ask(planning).text
