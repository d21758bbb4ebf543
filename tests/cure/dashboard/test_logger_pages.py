"""Loggers as the pages show them; what is placed, taken out, tried, and screened again."""

from __future__ import annotations

from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

import pytest
from beside_support import ROWS
from pages_support import NOW, SITE, Bench, Browser

from alerts.site_words import shipped
from cure.dashboard.asked import Visitor
from cure.dashboard.beside import LoggersSeen
from cure.dashboard.choosing import reader_of
from cure.dashboard.logger_pages import FOUND_SHAPES, SHAPES
from cure.dashboard.rendering import words
from cure.dashboard.signs import SHAPES as DRAWINGS
from cure.first_reading import Found
from cure.loggers import Standing
from shared import units
from shared.models.acts import PlaceSensor, RemoveSensor, ScreenAgain
from shared.models.people import Role
from shared.models.readings import Reason, Refusal, Refused

WIRE = Refusal(7, Refused(NOW - 60_000, "m/lg-02", b'{"t": 1}\x00<script>', Reason.UNIT, "'K' is no unit"))
PLACED = {"sensor": "lg-03.1", "bay": "2-b1", "zone": "top", "depth_mm": "20", "position": "C4", "required": "no"}


def sent(bench: Bench, role: Role, path: str, **form: Any) -> tuple[int, str]:
    browser: Browser = bench.signed_in(role)
    answer = browser.post(path, {"csrf": bench.csrf(browser), **form})
    return answer.status_code, answer.text


def test_every_standing_and_finding_has_a_shape_and_words() -> None:
    assert set(SHAPES) == set(Standing)
    assert set(FOUND_SHAPES) == set(Found)
    assert {*SHAPES.values(), *FOUND_SHAPES.values()} <= set(DRAWINGS)
    for language in words().values():
        assert all(language.has(f"standing-{one.value.replace(', ', '-').replace(' ', '-')}") for one in Standing)
        assert all(language.has(f"found-{one.value.lower().replace(' ', '-')}") for one in Found)


def test_the_list_shows_what_is_wrong_first_and_what_to_do(bench: Bench) -> None:
    bench.board.standing = (WIRE,)
    text = bench.signed_in(Role.QC).get("/loggers").text
    places = [text.index(name) for name in ("lg-02.1", "lg-03<", "lg-01.1")]
    assert places == sorted(places)
    for said in (
        "Go and look: battery",
        "Change the battery",
        "messages are refused, most for: unit",
        "Nothing of it counts: place it",
        f"heard 4 min ago, {units.shown(30.6, 'degC', first='SI', limit=False)}, battery 81 %, -71 dBm",
        f"exposed edge, {units.shown(50.0, 'mm', first='SI', limit=False)}, grid C4",
        "1 stand refused",
        "{&#34;t&#34;: 1} &lt;script&gt;",
    ):
        assert said in text, said


def test_a_logger_that_is_not_listed_is_found_by_its_name_or_a_sensor_s(bench: Bench) -> None:
    browser = bench.signed_in(Role.INSTALLER)
    for given in ("lg-77", " LG-77.1 "):
        answer = browser.get(f"/loggers?{urlencode({'logger': given})}")
        assert (answer.status_code, answer.headers["location"]) == (303, "/logger/lg-77")
    wrong = browser.get("/loggers?logger=../people")
    assert wrong.status_code == 422
    assert "such as lg-07." in wrong.text
    assert "not listed" not in bench.signed_in(Role.VIEWER).get("/loggers").text


@pytest.mark.parametrize("language", ["fr", "es"])
def test_the_pages_are_in_the_reader_s_language(bench: Bench, language: str) -> None:
    browser = bench.signed_in(Role.QC)
    browser.cookies.set("slabhour_language", language)
    for path in ("/loggers", "/logger/lg-01", "/labels", "/help"):
        answer = browser.get(path)
        assert (answer.status_code, f'lang="{language}"' in answer.text) == (200, True)
        assert "(standing-" not in answer.text
        assert "Whole" not in answer.text


def test_a_logger_s_page_says_what_the_first_reading_check_says(bench: Bench) -> None:
    text = bench.signed_in(Role.INSTALLER).get("/logger/lg-01").text
    assert "Not as it should be" in text
    assert "every 30 min, not every 15 min as set" in text
    assert f"/logger/lg-01?held=lg-01.1&amp;since={NOW}" in text
    assert "Nothing is known of lg-77" in bench.signed_in(Role.INSTALLER).get("/logger/lg-77").text
    assert bench.signed_in(Role.INSTALLER).get("/logger/LG").status_code == 404


def test_a_check_tells_temperatures_in_the_reader_s_units(bench: Bench) -> None:
    browser = bench.signed_in(Role.INSTALLER)
    for system, language, said in (
        ("SI", "en", "30.6 °C (87.0 °F) 4 min ago"),
        ("US", "en", "87.0 °F (30.6 °C) 4 min ago"),
        ("US", "fr", "87.0 °F (30.6 °C) il y a 4 min"),
    ):
        browser.cookies.set("slabhour_units", system)
        browser.cookies.set("slabhour_language", language)
        text = browser.get("/logger/lg-01").text
        assert (said in text, "degC" in text) == (True, False), (system, language)
    made = reader_of(shipped(), SITE, Visitor(), {}, "en")
    assert made.checked("9.0 degC is not the air of the bay, -1 to 5 degC: is its unit right?") == (
        "9.0 °C (48.2 °F) is not the air of the bay, -1.0 °C (30.2 °F) to 5.0 °C (41.0 °F): is its unit right?"
    )


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (f"held=lg-01.1&since={NOW - 60_000}", True),
        (f"held=lg-09.1&since={NOW - 60_000}", False),
        (f"held=lg-01.1&since={NOW + 1}", False),
        ("held=lg-01.1&since=1", False),
        ("held=lg-01.1&since=soon", False),
    ],
)
def test_a_hand_is_looked_for_from_the_hour_of_the_press(bench: Bench, asked: str, told: bool) -> None:
    text = bench.signed_in(Role.INSTALLER).get(f"/logger/lg-01?{asked}").text
    assert (f"hold it in your hand; lg-01.1, {NOW - 60_000}" in text) is told


def test_a_sensor_is_placed_and_taken_out_by_the_same_acts_as_elsewhere(bench: Bench) -> None:
    assert sent(bench, Role.INSTALLER, "/logger/lg-03/place", **PLACED)[0] == 303
    assert sent(bench, Role.QC, "/logger/lg-01/remove", sensor="lg-01.1", why="cable cut")[0] == 303
    [placed, removed] = bench.acts
    assert isinstance(placed, PlaceSensor)
    assert (placed.who, placed.sensor, placed.zone, placed.depth_mm) == ("installer", "lg-03.1", "top", 20)
    assert (placed.required, placed.happened, placed.second_person) == (False, None, None)
    assert isinstance(removed, RemoveSensor)
    assert (removed.sensor, removed.why) == ("lg-01.1", "cable cut")


@pytest.mark.parametrize(
    ("path", "form", "said"),
    [
        ("/logger/lg-03/place", {**PLACED, "sensor": "lg-04.1"}, "is named lg-03.1"),
        ("/logger/lg-03/place", {**PLACED, "depth_mm": "1e2"}, "a whole number"),
        ("/logger/lg-03/place", {**PLACED, "depth_mm": "2001"}, "depth_mm"),
        ("/logger/lg-03/place", {**PLACED, "zone": "middle"}, "zone"),
        ("/logger/lg-03/place", {**PLACED, "earlier": "7:4"}, "no time of day"),
        ("/logger/lg-01/remove", {"sensor": "lg-01.1", "why": ""}, "why"),
    ],
)
def test_what_cannot_be_is_told_and_the_form_comes_back_filled(
    bench: Bench, path: str, form: dict[str, str], said: str
) -> None:
    status, text = sent(bench, Role.INSTALLER, path, **form)
    assert (status, bench.acts) == (422, [])
    assert said in text
    if path.endswith("place"):
        assert f'value="{form["position"]}"' in text


def test_what_was_refused_is_screened_again_with_a_reason(bench: Bench) -> None:
    bench.board.standing = (WIRE,)
    assert sent(bench, Role.QC, "/loggers/again", sensor="", why="")[0] == 422
    assert sent(bench, Role.QC, "/loggers/again", sensor="lg", why="unit set")[0] == 422
    status, text = sent(bench, Role.INSTALLER, "/loggers/again", sensor="lg-02.1", why="unit set")
    assert (status, "0 are answered, 1 stand" in text) == (200, True)
    [act] = bench.acts
    assert isinstance(act, ScreenAgain)
    assert (act.sensor, act.why, act.who) == ("lg-02.1", "unit set", "installer")


def test_a_weak_signal_is_something_to_do(bench: Bench) -> None:
    rows = tuple(replace(row, signal_db=-117.0) if row.name == "lg-01.1" else row for row in ROWS)
    assert "Its signal is weak" not in bench.signed_in(Role.QC).get("/loggers").text
    bench.beside = replace(bench.beside, loggers=lambda: LoggersSeen(rows, {}))
    text = bench.signed_in(Role.QC).get("/loggers").text
    assert text.count("Its signal is weak: move the gateway nearer") == 1
    for language in words().values():
        assert all(language.has(key) for key in ("do-signal", "check-signal"))
