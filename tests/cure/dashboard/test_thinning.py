"""Thinning keeps exact extremes, ends and holes."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from cure.dashboard.thinning import COLUMN, broken, pieces, thinned


@given(st.integers(1, 3000), st.floats(0.01, 5.0), st.integers(0, 2**32 - 1))
def test_the_lowest_and_the_highest_of_each_column_are_kept_and_little_else(n: int, apart: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    x, y = np.cumsum(rng.uniform(0.0, 2.0 * apart, n)), rng.choice([-20.0, 0.0, 3.5, 70.0], n) + rng.normal(0, 1, n)
    kept = thinned(x, y)
    assert list(kept) == sorted(set(kept))
    assert {0, n - 1} <= set(kept)
    columns = np.floor(x / COLUMN)
    for column in np.unique(columns):
        inside, of = y[columns == column], y[kept[columns[kept] == column]]
        assert of.min() == inside.min()
        assert of.max() == inside.max()
    assert len(kept) <= 2 * len(np.unique(columns)) + 2


def test_one_freezing_reading_among_ten_thousand_is_drawn() -> None:
    x, y = np.linspace(0.0, 700.0, 10_000), np.full(10_000, 20.0)
    y[4321] = -3.0
    kept = thinned(x, y)
    assert 4321 in kept
    assert len(kept) < 900


def test_a_line_is_broken_where_a_hole_is_too_long() -> None:
    x, y = broken(np.array([0.0, 1.0, 2.0, 9.0, 10.0]), np.array([5.0, 6.0, 7.0, 8.0, 9.0]), 1.5)
    assert [list(y[p]) for p in pieces(x, y)] == [[5.0, 6.0, 7.0], [8.0, 9.0]]
    assert list(x) == sorted(x)


def test_what_is_no_number_breaks_a_line_and_is_in_no_piece() -> None:
    y = np.array([np.nan, 1.0, 2.0, np.inf, 3.0, np.nan])
    assert [list(p) for p in pieces(np.arange(6.0), y)] == [[1, 2], [4]]
    assert pieces(np.arange(2.0), np.array([np.nan, np.nan])) == []
    assert pieces(np.empty(0), np.empty(0)) == []
