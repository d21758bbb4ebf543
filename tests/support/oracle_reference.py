"""The oracle's own slow arithmetic: what raw readings can support at most. It shares no line with what it judges.

Everything here errs upwards: credit from the end of the pour that is on the book, gaps at the best that the rules
allow. What it does not find met, nobody may release.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

HOUR_MS: Final = 3_600_000
MINUTE_MS: Final = 60_000
GAP_MS: Final = 4 * HOUR_MS
AIR_LESS_C: Final = 4.0
FROST_C: Final = 1.0
"""As cold as this nothing stands in for a sensor any more."""
HOTTEST_C: Final = 50.0
_GAS: Final = 8.314
_SU_MPA, _TAU_H, _BETA = 43.5, 26.7, 0.78
"""Of the calibration file that the simulated site is given."""
K: Final = 0.8

Rows = Sequence[tuple[int, float]]
"""(taken [ms], temperature [degC]), ascending."""


@dataclass(frozen=True)
class Piece:
    """A stretch between two readings: how warm it may be called, and its coldest."""

    from_ms: int
    to_ms: int
    mean_c: float
    low_c: float


def pieces(rows: Rows, air: Rows, interval_ms: int) -> list[Piece]:
    """Return the stretches that may earn something; a longer hole earns nothing and is left out."""
    found = []
    for (t0, c0), (t1, c1) in pairwise(rows):
        if t1 - t0 <= 1.5 * interval_ms:
            found.append(Piece(t0, t1, (c0 + c1) / 2.0, min(c0, c1)))
        elif t1 - t0 <= GAP_MS:
            beside = [c for t, c in air if t0 <= t <= t1]
            value = min([c0, c1, *(c - AIR_LESS_C for c in beside)])
            found.append(Piece(t0, t1, value, value))
    return found


def with_air(rows: Rows, air: Rows, interval_ms: int, now_ms: int) -> Rows:
    """Return a record with what the air says in its place, wherever it is silent for more than three intervals.

    Each zone of the simulated site has one sensor, and nobody covers anything: only the air can stand in.
    """
    out: list[tuple[int, float]] = []
    ends = [*rows[1:], (now_ms + 1, math.inf)]
    for (t0, c0), (t1, c1) in zip(rows, ends, strict=True):
        out.append((t0, c0))
        if t1 - t0 <= 3 * interval_ms:
            continue
        for t, c in air:
            least = min(c0, c1, c - AIR_LESS_C)
            if t0 < t < t1:
                if not least > FROST_C:
                    break
                out.append((t, least))
    return out


def rate(c: float) -> float:
    """Return hours at 20 degC for an hour: the lower of 41.5 kJ/mol and the two-branch energy; none at or below 0."""
    if not c > 0.0:
        return 0.0
    t = min(c, HOTTEST_C)
    cold = 33_500.0 + 1_470.0 * max(0.0, 20.0 - t)
    factors = [math.exp(e / _GAS * (1.0 / 293.15 - 1.0 / (t + 273.15))) for e in (41_500.0, cold)]
    return min(factors)


def age_h(found: Sequence[Piece], end_ms: int, through_ms: int) -> float:
    """Return the equivalent age at most. [h]"""
    total = 0.0
    for p in found:
        ms = min(p.to_ms, through_ms) - max(p.from_ms, end_ms)
        total += rate(p.mean_c) * max(0, ms) / HOUR_MS
    return total


def estimate_mpa(hours: float) -> float:
    """Return the estimate of strength of the site's calibration. [MPa]"""
    return 0.0 if hours <= 0.0 else _SU_MPA * math.exp(-((_TAU_H / hours) ** _BETA))


def counted_h(sensors: Sequence[Sequence[Piece]], end_ms: int, through_ms: int, at_c: float) -> float:
    """Return the hours in which every sensor was at or above, minute by minute. [h]"""
    minutes, places = 0, [0] * len(sensors)
    for t in range(end_ms + MINUTE_MS // 2, through_ms, MINUTE_MS):
        every = True
        for i, found in enumerate(sensors):
            while places[i] < len(found) and found[places[i]].to_ms <= t:
                places[i] += 1
            p = found[places[i]] if places[i] < len(found) else None
            every = every and p is not None and p.from_ms <= t and p.low_c >= at_c
        minutes += every
    return minutes / 60.0


@dataclass(frozen=True)
class Supported:
    """What the readings of a pour support at most."""

    counted_5_h: float
    bound_mpa: float
    coldest_c: float
    """Of the last hour before the watermark."""
    oldest_ms: int
    """The newest reading of the sensor that has been silent longest."""


def supported(required: Mapping[str, Rows], air: Rows, end_ms: int, interval_ms: int, now_ms: int) -> Supported | None:
    """Return what readings support by now; None: a required sensor has said nothing since the end."""
    rows = [with_air(r, air, interval_ms, now_ms) for r in required.values()]
    if not rows or any(not r or r[-1][0] < end_ms for r in rows):
        return None
    mark = min(r[-1][0] for r in rows)
    each = [pieces(r, air, interval_ms) for r in rows]
    ages = [age_h(p, end_ms, mark) for p in each]
    last_hour = [c for r in rows for t, c in r if mark - HOUR_MS <= t <= mark]
    return Supported(
        counted_h(each, end_ms, mark, 5.0), K * estimate_mpa(min(ages)), min(last_hour, default=math.nan), mark
    )
