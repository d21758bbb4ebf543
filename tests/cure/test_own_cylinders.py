"""What people read of batches: pours with cylinders of their own, and the scatter of the sets."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from store_support import T0, make_calibration, make_pour, make_site

from cure.counted import WHY_NOT
from cure.own_cylinders import NO_RULE, assumed, batches_of, own_lines, tenth_line
from cure.strength import CURVES
from shared.models.base import HOUR_MS, PourId
from shared.models.calibration import OwnCylinders
from shared.models.decisions import MixTest
from shared.ports import MixPour, MixRow

NARROWS = OwnCylinders(narrow_to_percent=7.0)


def cylinders(pour: str, *ratios: float, n: int = 0) -> list[MixTest]:
    on_curve = float(CURVES["exponential"].strength_mpa(np.array([24.0]), make_calibration().parameters)[0])
    return [MixTest(PourId(pour), T0 + n * 24 * HOUR_MS, 24.0, ratio * on_curve) for ratio in ratios]


def row_of(tests: list[MixTest], *pours: str, **changes: Any) -> MixRow:
    open_pours = tuple(MixPour(make_pour(p), {}) for p in pours)
    return MixRow(make_site().mix[0], make_calibration(**changes), True, open_pours, tuple(tests))


def said(row: MixRow) -> list[str]:
    return own_lines(batches_of(row), rule=row.calibration.own_cylinders is not None)


def test_a_pour_without_cylinders_and_a_closed_one_are_not_named() -> None:
    assert said(row_of(cylinders("closed", 0.9, 0.9), "none")) == []


def test_without_a_rule_it_is_said_what_is_expected_and_that_it_does_not_count() -> None:
    (line,) = said(row_of(cylinders("p-1", 0.96, 0.96), "p-1"))
    assert line.startswith("own cylinders of p-1: 2, its batch is expected at 98.")
    assert line.endswith(NO_RULE)


def test_what_is_lowered_and_what_is_narrowed_is_said() -> None:
    (line,) = said(row_of(cylinders("p-1", 0.96, 0.96), "p-1", own_cylinders=OwnCylinders()))
    assert "; its curve counts for 98." in line
    assert line.endswith("; nothing is narrowed")
    both = [*cylinders("p-1", 1.0, 1.01), *cylinders("p-1", 1.0, 1.02, n=1)]
    (line,) = said(row_of(both, "p-1", own_cylinders=NARROWS))
    assert "; nothing is lowered; its batch has a spread of 8." in line


def test_why_nothing_is_narrowed_is_said() -> None:
    (line,) = said(row_of(cylinders("p-1", 1.0, 1.01), "p-1", own_cylinders=NARROWS))
    assert line.endswith(f"nothing is narrowed: {WHY_NOT['few']}")


def test_two_sets_tell_no_scatter_and_three_are_held_against_what_the_bound_has() -> None:
    calibration = make_calibration()
    assert tenth_line(calibration, [1.0, 0.9]) is None
    # By hand: mean 1, s 0.02, factor 2.501: 0.94998; the bound has 1 - 1.28155 x 0.10 = 0.87184.
    assert assumed(calibration) == pytest.approx(0.87184, abs=1e-5)
    line = tenth_line(calibration, [0.98, 1.0, 1.02])
    assert line == (
        "nine in ten sets are above 94.9 % (75 % confidence; mean 100.0 %, spread 2.0 %, factor 2.50 of 3); the bound "
        "has 87.1 %"
    )


def test_sets_that_scatter_more_than_the_bound_allows_for_ask_for_a_wider_spread() -> None:
    ratios = [0.9, 1.0, 1.1]
    line = tenth_line(make_calibration(), ratios)
    assert line is not None
    assert line.endswith("WIDER than it allows for, give the next version a larger batch_sd_percent")
    wide = tenth_line(make_calibration(batch_sd_percent=25.0), ratios)
    assert wide is not None
    assert "WIDER" not in wide
