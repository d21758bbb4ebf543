"""Fewer points of a line, without losing a peak, a freezing minute or a hole. Pure."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.maturity import Floats

COLUMN: Final = 2.0
"""Of each column of the picture this wide the lowest and the highest value are drawn. [units]"""


def broken(x: Floats, y: Floats, longest: float) -> tuple[Floats, Floats]:
    """Return a line with no number wherever two of its points lie further apart than `longest`: it breaks there."""
    holes = np.flatnonzero(np.diff(x) > longest) + 1
    return np.insert(x, holes, x[holes - 1]), np.insert(y, holes, np.nan)


def pieces(x: Floats, y: Floats) -> list[NDArray[np.int64]]:
    """Return the indices of each stretch without a break."""
    known = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    return [p for p in np.split(known, np.flatnonzero(np.diff(known) > 1) + 1) if len(p)]


def thinned(x: Floats, y: Floats) -> NDArray[np.int64]:
    """Return which points of one stretch to draw: its ends, and of each column the lowest and the highest.

    Args:
        x: places, ascending, shape (n,). [units]
        y: values, finite, shape (n,).
    """
    n = len(x)
    column = np.floor(x / COLUMN)
    begins = np.flatnonzero(np.concatenate(([True], np.diff(column) != 0)))
    if n <= 2 * len(begins):
        return np.arange(n)
    widths = np.diff(np.append(begins, n))
    kept = [np.array([0, n - 1])]
    for extreme in (np.minimum, np.maximum):
        # The first of the points that reach a column's extreme.
        at = np.flatnonzero(y == np.repeat(extreme.reduceat(y, begins), widths))
        kept.append(at[np.unique(np.searchsorted(begins, at, side="right"), return_index=True)[1]])
    return np.unique(np.concatenate(kept))
