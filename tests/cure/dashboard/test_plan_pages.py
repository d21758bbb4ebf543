"""Before the pour, on a page: one case, its hours and its chart; nothing is changed."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from typing import Any

import pytest
from cure_support import make_case
from pages_support import NOW, Bench, Browser

from cure.forecast import Weather
from cure.plan_weather import days_alike
from shared.models.base import Ms
from shared.models.people import Role

ASKED = {
    "bay": "2-b1", "start": "2025-11-27T08:00", "operation": "strip", "wanted": "2025-11-28T16:00", "cement": "I",
    "pour_h": "2", "placing_c": "18", "thickness_mm": "", "binder_kg": "360", "water_binder": "0,5", "low_c": "10",
    "high_c": "18", "wind_m_s": "3", "cover_r": "0.35", "cover_for_h": "", "below_c": "",
}  # fmt: skip
LATE = ("the forecast ends 30 h early and goes on as its last day",)


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
    answer = ask(planning, binder_kg="20", placing_c="nan", start="soon", bay="9-b9", high_c="5")
    assert answer.status_code == 422
    for said in (
        "Binder, kg/m³ (empty: cement, binder and water as the site file says of the mix): a number from 100 to 800",
        "Concrete as placed, °C: a number from 0 to 40",
        "First concrete: a date and an hour",
        "Bay: one of those in the list",
        "The coldest hour is not warmer than the warmest.",
    ):
        assert said in answer.text
    assert "<svg xmlns" not in answer.text


def test_what_is_left_empty_is_the_mixs_and_the_sites(planning: Browser, bench: Bench) -> None:
    left = {"low_c": "", "high_c": "", "binder_kg": ""}
    assert "the site holds no weather for these hours" in ask(planning, **left).text
    assert "The coldest hour is not warmer" in ask(planning, low_c="").text

    def held(hours: tuple[Ms, Ms]) -> Weather:
        return replace(days_alike(10.0, 18.0, 3.0, "America/Halifax", hours, NOW), source="met.csv", doubts=LATE)

    object.__setattr__(bench.parts(), "beside", replace(bench.beside, weather=held))
    refused = ask(planning, **left)
    assert "mix c32-f has no heat data" in refused.text
    assert "--" not in refused.text.partition("<main")[2]
    answer = ask(planning, **{**left, "binder_kg": "360"})
    assert "The weather is the site&#39;s: met.csv." in answer.text
    assert LATE[0] in answer.text
    assert hours_of(answer.text) == hours_of(ask(planning).text) != []


def test_what_would_change_nothing_is_a_fault_and_what_counts_is_answered_with_its_spread(planning: Browser) -> None:
    idle = ask(planning, cover_r="0", cover_on_h="3", binder_kg="", slag="0.2", below_for_h="24")
    assert idle.status_code == 422
    for said in (
        "Cover laid so long after the end of the pour, h (empty: 2): this counts only beside “Cover, m²K/W (0: none)”",
        "Slag, share of the binder (empty: none): this counts only beside “Binder, kg/m³",
        "Space below heated for, h (empty: until further notice): this counts only beside “Space below heated to",
    ):
        assert said in idle.text
    answer = ask(planning, mix="c32-f", fly_ash="0.2", cover_on_h="3", below_c="10", below_for_h="24")
    assert answer.status_code == 200, answer.text
    assert re.search(r"Of the spread of Strip: weather \d+ %, heat model \d+ %, mix \d+ %\.", answer.text)
    assert "<option selected>c32-f</option>" in answer.text
    assert "Mix: one of those in the list" in ask(planning, mix="c50").text


def test_in_us_units_the_same_is_entered_and_answered(planning: Browser) -> None:
    of_si = hours_of(ask(planning).text)
    planning.cookies.set("slabhour_units", "US")
    us = {"placing_c": "64.4", "binder_kg": "606.8", "low_c": "50", "high_c": "64.4", "wind_m_s": "6.7108"}
    answer = ask(planning, **us, cover_r="1.98738", thickness_mm="")
    assert hours_of(answer.text) == of_si != []
    assert "Concrete as placed, °F" in answer.text
    wrong = ask(planning, **{**us, "placing_c": "18"})
    assert "Concrete as placed, °F: a number from 32 to 104" in wrong.text
    assert (
        'name="placing_c" inputmode="decimal" maxlength="8" autocomplete="off" value="64"' in planning.get("/plan").text
    )


def hours_of(text: str) -> list[str]:
    return re.findall(r"<td [^>]*>([^<]+)</td>", text)


def test_a_mix_without_a_calibration_is_refused(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(type(bench.board), "edits", lambda *_: (), raising=False)
    answer = ask(bench.signed_in(Role.QC))
    assert answer.status_code == 422
    assert "mix c32-f has no calibration" in answer.text


@pytest.mark.parametrize(("language", "said"), [("fr", "Prévu, non autorisé"), ("es", "Previsto, sin permiso")])
def test_it_is_said_in_each_language(planning: Browser, language: str, said: str) -> None:
    planning.cookies.set("slabhour_language", language)
    assert said in ask(planning).text
    assert "{" not in planning.get("/plan").text
