"""What is kept of a twin's pours, and their scores: coverage, cautious hour, CRPS by what else foretells. Pure."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Sequence
from dataclasses import astuple, dataclass
from typing import Final

import numpy as np

from cure.scoring import crps_until
from deploy.bench.mixes import Array

CALENDAR_H: Final = {3.5: 24.0, 7.0: 48.0}
"""What a clock and a rule of thumb say."""
HORIZON_H: Final = 120.0


@dataclass(frozen=True, slots=True)
class Row:
    """One strength of one true pour at so many hours of data; hours from the placing on."""

    mpa: float
    data_h: int
    pour: int
    truth_h: float
    """When it had it; infinite: not in time."""
    low_h: float
    middle_h: float
    high_h: float
    """Foreseen, at 10, 50 and 90 %."""
    crps_h: float
    prior_h: float
    """CRPS without the readings..."""
    calendar_h: float
    """... of the calendar, and..."""
    present_h: float
    """... of going on at the present rate."""

    @property
    def ends_h(self) -> float:
        """The horizon."""
        return self.data_h + HORIZON_H

    @property
    def hour(self) -> float:
        """When it came, as far as anybody could foresee it."""
        return min(max(self.truth_h, self.data_h), self.ends_h)


@dataclass(frozen=True, slots=True)
class Score:
    """Of one strength at so many hours of data; hours, and shares of pours."""

    mpa: float
    data_h: int
    pours: int
    censored: int
    """Not there within the horizon: counted as the horizon."""
    cover: float
    """Of the 80 % interval."""
    missed: float
    """Pours that were later than the cautious hour, of 90 %."""
    width_h: float
    crps_h: float
    prior_h: float
    """CRPS by the others, as of `Row`."""
    calendar_h: float
    present_h: float
    bias_h: float
    """Median of the forecast's middle less the truth."""


def row_of(mpa: float, data_h: int, pour: tuple[int, float], of: tuple[Array, Array], present_h: float) -> Row:
    """Return what came of one pour.

    Args:
        mpa: the strength.
        data_h: hours of data.
        pour: which, and when it had that strength; infinite: not in time. [h]
        of: hours of the members with the readings, and without, each of shape (members,).
        present_h: the hour by going on at the present rate.
    """
    ends, (i, truth_h) = data_h + HORIZON_H, pour
    # What was strong before the data's last hour is known by nobody as an earlier one.
    hour = min(max(truth_h, data_h), ends)

    def crps(several: Array) -> float:
        return crps_until(np.clip(several, data_h, ends), hour, ends)

    members = np.sort(np.clip(of[0], data_h, ends))
    low, middle, high = (float(members[max(0, math.ceil(q * len(members)) - 1)]) for q in (0.1, 0.5, 0.9))
    others = (np.array([CALENDAR_H[mpa]]), np.array([present_h]))
    return Row(mpa, data_h, i, truth_h, low, middle, high, *(crps(one) for one in (*of, *others)))


def scores(found: Sequence[Row]) -> list[Score]:
    """Return the scores of each strength at each number of hours of data."""
    cells: dict[tuple[int, float], list[Row]] = {}
    for row in found:
        cells.setdefault((row.data_h, row.mpa), []).append(row)
    return [_score(of) for _, of in sorted(cells.items())]


def _score(of: Sequence[Row]) -> Score:
    def mean(value: Callable[[Row], float]) -> float:
        return float(np.mean([value(row) for row in of]))

    return Score(
        mpa=of[0].mpa,
        data_h=of[0].data_h,
        pours=len(of),
        censored=sum(row.truth_h > row.ends_h for row in of),
        cover=mean(lambda row: row.low_h <= row.hour <= row.high_h),
        missed=mean(lambda row: row.hour > row.high_h),
        width_h=mean(lambda row: row.high_h - row.low_h),
        crps_h=mean(lambda row: row.crps_h),
        prior_h=mean(lambda row: row.prior_h),
        calendar_h=mean(lambda row: row.calendar_h),
        present_h=mean(lambda row: row.present_h),
        bias_h=float(np.median([row.middle_h - row.hour for row in of])),
    )


def lines(scores: Sequence[Score]) -> list[str]:
    """Return the scores as text."""
    head = "MPa  data h  pours censored  cover missed width h   CRPS h  prior calendar present  bias h"
    return [head, *map(_line, scores)]


def _line(s: Score) -> str:
    return (
        f"{s.mpa:3.1f} {s.data_h:7d} {s.pours:6d} {s.censored:8d} {s.cover:6.2f} {s.missed:6.2f} {s.width_h:7.1f}"
        f" {s.crps_h:8.2f} {s.prior_h:6.2f} {s.calendar_h:8.2f} {s.present_h:7.2f} {s.bias_h:7.2f}"
    )


def written(found: Sequence[Row]) -> str:
    """Return rows as a CSV."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(Row.__slots__)
    table.writerows([f"{value:.6g}" for value in astuple(row)] for row in found)
    return text.getvalue()


def read(text: str) -> list[Row]:
    """Return the rows of a CSV."""
    return [
        Row(float(mpa), int(data_h), int(pour), *(float(value) for value in rest))
        for mpa, data_h, pour, *rest in list(csv.reader(io.StringIO(text)))[1:]
    ]
