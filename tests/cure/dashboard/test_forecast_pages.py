"""The page of scores has the figures of `slabhour forecast score`, in each language, and releases nothing."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from beside_support import SCORED
from pages_support import Bench, bench_of
from scores_support import scored
from store_support import opened_book

from cure.dashboard.forecast_pages import percent
from cure.forecast_scores import LAST_POURS, scores
from shared.models.forecasts import Outcome
from shared.models.people import Role


@pytest.fixture
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        try:
            yield bench_of(book)
        finally:
            SCORED.clear()


def test_without_scores_it_says_so(bench: Bench) -> None:
    text = bench.signed_in(Role.VIEWER).get("/forecasts").text
    assert "No forecast is scored yet" in text
    assert "0 pours are scored; from 30 on" in text
    assert "<table" not in text


def test_every_figure_is_the_command_s_and_a_wider_spread_is_told(bench: Bench) -> None:
    SCORED.extend(scored(n, 4.5 if n % 2 else 1.0, mix="a" if n % 3 else "b") for n in range(LAST_POURS))
    SCORED.append(scored(99, 0.0, outcome=Outcome.CLOSED))
    browser, report = bench.signed_in(Role.QC), scores(SCORED)
    text = browser.get("/forecasts").text
    for line in report.lines:
        assert f"{line.forecasts} ({line.cases})" in text
        if line.forecasts:
            assert f"{percent(line.covered)} % ({percent(line.covered_low)} to {percent(line.covered_high)})" in text
            assert all(f"{hours} h</td>" in text for hours in (f"{line.crps_h:.1f}", f"{line.error_h:.1f}"))
            assert f"{line.bias_h:+.1f} h" in text
    assert "50 % came inside" in text
    assert "widened by 1.20" in text
    assert "wants a person" not in text
    assert "pour was closed before: 1" in text
    assert text.count('class="chart wide"') == 1
    assert "It releases nothing" in text
    for language, said in (("fr", "élargi de 1.20"), ("es", "ensancha por 1.20")):
        browser.cookies.set("slabhour_language", language)
        text = browser.get("/forecasts").text
        assert said in text
        assert "came later" not in text
        assert "Inside the" not in text


def test_a_spread_that_no_widening_saves_wants_a_person(bench: Bench) -> None:
    SCORED.extend(scored(n, 60.0) for n in range(LAST_POURS))
    assert "wants a person to look at it" in bench.signed_in(Role.QC).get("/forecasts").text
