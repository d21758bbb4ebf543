"""Mixes: how calibrations stand, what to break, and results entered."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from mixes_support import mix_bench
from pages_support import Bench
from store_support import opened_book

from alerts.site_words import shipped
from cure.batch import Batch
from cure.counted import WHY_NOT
from cure.dashboard.batches import counts_said
from cure.dashboard.reader import Reader
from cure.dashboard.rendering import words
from cure.strength import CURVES
from cure.verification_report import percent, verification_of
from shared.models.acts import StrengthTest
from shared.models.base import DAY_MS, PourId
from shared.models.calibration import OwnCylinders
from shared.models.decisions import MixTest
from shared.models.people import Role
from shared.shifts import day_of
from shared.units import psi_to_mpa

RESULT = {"pour": "2-b1-p1", "method": "cylinder", "strength": "9,4", "unit": "MPa", "equivalent_age_h": "24.5"}


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with opened_book(tmp_path) as book:
        yield mix_bench(book)


def test_the_list_and_a_mix_s_page_say_what_the_verification_says(bench: Bench) -> None:
    [row] = bench.board.known_mixes
    stands = verification_of(row, day_of(bench.clock.now(), "America/Halifax"))
    browser = bench.signed_in(Role.QC)
    assert "Version 1 is in force" in browser.get("/mixes").text
    text = browser.get("/mix/c32-f").text
    assert stands.sets
    assert f"{percent(stands.sets[0].ratio)} of the curve, lowers the curve" in text
    assert "running sum" in text
    assert text.count('class="chart wide"') == 2
    assert "What to break next" in text
    assert "releases nothing" in text
    assert browser.get("/mix/c99").status_code == 404


def test_a_mix_without_a_calibration_says_so_and_who_only_reads_has_no_form(bench: Bench) -> None:
    bench.board.known_mixes = ()
    text = bench.signed_in(Role.CREW).get("/mix/c32-f").text
    assert "Not calibrated" in text
    assert "<form" not in text.partition("<footer")[0]
    assert "/calibrate" not in bench.signed_in(Role.CREW).get("/mixes").text


def test_what_cylinders_say_of_batches_is_said_in_every_language(bench: Bench) -> None:
    [row] = bench.board.known_mixes
    calibration = row.calibration.model_copy(update={"own_cylinders": OwnCylinders(narrow_to_percent=7.0)})
    on_curve = float(CURVES["exponential"].strength_mpa(np.array([24.0]), calibration.parameters)[0])
    scattered = [
        MixTest(PourId("earlier"), n * DAY_MS + i, 24.0, ratio * on_curve)
        for n, ratio in enumerate((1.1, 1.0, 0.96))
        for i in range(2)
    ]
    bench.board.known_mixes = (replace(row, calibration=calibration, tests=(*scattered, *row.tests)),)
    browser = bench.signed_in(Role.QC)
    sentences = {
        "en": ("Nine in ten sets are above", "Own cylinders of", "its curve counts for", "nothing is narrowed"),
        "fr": ("Neuf jeux sur dix", "Cylindres propres de", "sa courbe compte pour", "rien n'est resserré"),
        "es": ("Nueve de cada diez juegos", "Probetas propias de", "su curva cuenta por", "no se estrecha nada"),
    }
    for language, wanted in sentences.items():
        browser.cookies.set("slabhour_language", language)
        text = unescape(browser.get("/mix/c32-f").text)
        assert [w for w in wanted if w not in text] == []


@pytest.mark.parametrize("language", ["en", "fr", "es"])
def test_every_reason_why_nothing_is_narrowed_has_its_words(language: str) -> None:
    reader = Reader(words()[language], shipped()[language], "SI", "UTC")
    said = {" ".join(counts_said(Batch(4, 1.0, 0.084, why_not=why), reader, rule=True)) for why in WHY_NOT}
    assert len(said) == len(WHY_NOT)
    assert all(voiced.endswith(")") and "own-not" not in voiced for voiced in said)
    assert "8.4 %" in " ".join(counts_said(Batch(4, 1.0, 0.084, narrows_to=0.084), reader, rule=True))


@pytest.mark.parametrize("language", ["fr", "es"])
def test_the_pages_are_in_the_reader_s_language(bench: Bench, language: str) -> None:
    browser = bench.signed_in(Role.QC)
    browser.cookies.set("slabhour_language", language)
    for path in ("/mixes", "/mix/c32-f", "/mix/c32-f/calibrate"):
        text = browser.get(path).text
        assert f'lang="{language}"' in text
        assert "releases nothing" not in text


def test_a_result_is_entered_in_either_unit_with_a_point_or_a_comma(bench: Bench) -> None:
    browser = bench.signed_in(Role.QC)
    secret = bench.csrf(browser)
    assert browser.post("/mix/c32-f/break", {"csrf": secret, **RESULT}).status_code == 303
    psi = {**RESULT, "strength": "1400", "unit": "psi", "last_third": "yes", "equivalent_age_h": ""}
    assert browser.post("/mix/c32-f/break", {"csrf": secret, **psi}).status_code == 303
    [first, other] = bench.acts
    assert isinstance(first, StrengthTest)
    assert isinstance(other, StrengthTest)
    assert (first.mpa, first.equivalent_age_h, first.last_third, first.tested) == (9.4, 24.5, False, None)
    assert (other.mpa, other.equivalent_age_h, other.last_third) == (psi_to_mpa(1400.0), None, True)


@pytest.mark.parametrize(
    "changes",
    [
        {"strength": "strong"},
        {"strength": ""},
        {"strength": "nan"},
        {"strength": "151"},
        {"equivalent_age_h": "-1"},
        {"method": "hammer"},
        {"earlier": "25:00"},
    ],
)
def test_what_is_no_result_is_refused_and_comes_back(bench: Bench, changes: dict[str, str]) -> None:
    browser = bench.signed_in(Role.ENGINEER)
    answer = browser.post("/mix/c32-f/break", {"csrf": bench.csrf(browser), **RESULT, **changes})
    assert (answer.status_code, bench.acts) == (422, [])
    assert 'role="alert"' in answer.text
