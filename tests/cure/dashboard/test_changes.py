"""What a calibration would change: which unfinished pours, and from when to when."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import pytest
from mixes_support import mix_bench
from pages_support import SITE, Bench
from store_support import make_calibration, opened_book

from cure.bound import K_PLAIN
from cure.dashboard.changes import Changed, Reach, changed, reach_h, reaches
from cure.strength import CURVES
from shared.models.base import PourId

MIX = SITE.mix[0]


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with opened_book(tmp_path) as book:
        yield mix_bench(book)


def test_a_pour_with_a_version_keeps_it_and_others_come_first(bench: Bench) -> None:
    found = changed(bench.board.rows, "c32-f")
    assert found == (
        Changed(bench.board.rows[0].pour.bay, PourId("2-b1-p1"), None),
        Changed(bench.board.rows[1].pour.bay, PourId("2-b2-p1"), 1),
    )
    assert changed(bench.board.rows, "c50") == ()


def test_a_strength_is_reached_where_k_times_the_curve_has_it_within_what_was_tested() -> None:
    c = make_calibration()
    # Inverted by hand: tau (ln(Su / S))^(-1/beta) with S = 7 / 0.8.
    wanted = 30.0 * math.log(40.0 / (7.0 / K_PLAIN)) ** (-1.0 / 0.9)
    assert reach_h(7.0, c, MIX) == pytest.approx(wanted)
    assert CURVES[c.curve].strength_mpa(wanted, c.parameters) * K_PLAIN == pytest.approx(7.0)
    assert reach_h(0.001, c, MIX) == c.tested_from_h
    assert reach_h(39.0, c, MIX) == math.inf


def test_before_is_the_curve_with_what_later_cylinders_take_off(bench: Bench) -> None:
    [row] = bench.board.known_mixes
    new = make_calibration(version=2)
    assert reaches((7.0,), None, new, MIX) == (Reach(7.0, None, reach_h(7.0, new, MIX)),)
    [reach] = reaches((7.0,), row, new, MIX)
    assert reach.before_h is not None
    assert reach.before_h > reach.after_h, "its cylinders were low"
    [same] = reaches((7.0,), type(row)(row.mix, row.calibration, True, row.pours, ()), new, MIX)
    assert same.before_h == same.after_h
