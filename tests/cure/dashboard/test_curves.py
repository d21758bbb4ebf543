"""The cure curves of a bay's page."""

from __future__ import annotations

import re

import pytest
from pages_support import NOW, SITE, Bench
from store_support import BAY, POUR

from alerts.site_words import shipped
from cure.dashboard.chart_words import WORDS
from cure.dashboard.curves import SHOWN_H, curves
from cure.dashboard.reader import Reader
from cure.dashboard.rendering import words
from shared.models.base import HOUR_MS
from shared.models.people import Role


def ends(text: str) -> tuple[float, float]:
    """Return the first and the last hour of the first chart of a page."""
    found = re.search(r'data-x="[^",]*,[^",]*,([\d.e+]+),([\d.e+]+)"', text)
    assert found is not None
    return float(found[1]), float(found[2])


def test_strength_comes_first_then_temperature_each_in_two_sizes(bench: Bench) -> None:
    text = bench.signed_in(Role.QC).get(f"/bay/{BAY}").text
    keys = re.findall(r'<svg [^>]*class="chart (\w+)"[^>]*data-chart="(\w+)"', text)
    assert keys == [("wide", "strength"), ("narrow", "strength"), ("wide", "temperature"), ("narrow", "temperature")]
    assert "data-readout" in text


@pytest.mark.parametrize("language", ["en", "fr", "es"])
def test_they_speak_the_language_of_whoever_asks(bench: Bench, language: str) -> None:
    reader = Reader(words()[language], shipped()[language], "US", SITE.site.zone)
    strength, temperature = curves(bench.look(POUR), reader, "")
    assert WORDS[language].strength in strength
    assert "psi" in strength
    assert "°F" in temperature


@pytest.mark.parametrize("hours", [h for h in SHOWN_H if h])
def test_the_last_hours_may_be_asked_for_and_the_link_says_which_are_shown(bench: Bench, hours: str) -> None:
    text = bench.signed_in(Role.QC).get(f"/bay/{BAY}?hours={hours}").text
    first, last = ends(text)
    assert first == max(NOW - int(hours) * HOUR_MS, ends(bench.signed_in(Role.QC).get(f"/bay/{BAY}").text)[0])
    assert first < NOW <= last
    assert f'?hours={hours}" aria-current="page"' in text


@pytest.mark.parametrize("hours", ["-5", "nan", "24;x", "1e9", "%00"])
def test_hours_that_nobody_offers_show_all(bench: Bench, hours: str) -> None:
    browser = bench.signed_in(Role.QC)
    assert ends(browser.get(f"/bay/{BAY}?hours={hours}").text) == ends(browser.get(f"/bay/{BAY}").text)


def test_readings_that_cannot_be_read_are_said_and_not_left_out(bench: Bench) -> None:
    browser = bench.signed_in(Role.QC)
    bench.board.down = True
    answered = browser.get(f"/bay/{BAY}")
    assert answered.status_code == 503
    assert "disk I/O error" in answered.text


def test_a_bay_without_a_pour_has_none(bench: Bench) -> None:
    bench.board.rows = []
    assert '<svg class="chart' not in bench.signed_in(Role.QC).get(f"/bay/{BAY}").text
