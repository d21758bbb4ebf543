"""How good the forecast is: true pours in real winters, by another model than its own, at 6, 12 and 18 h of data.

`python -m deploy.bench.twin [--pours 240] [--seed 1] [--data-h 6 12 18] [--rows FILE] [--json]`. What is scored is the
hour at which the concrete has a strength; what had it before, or does not have it within the horizon, counts as that
hour, and none is left out.
"""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Final

import numpy as np

from cure.accumulate import Carried, Law, advance
from cure.assimilate import begun, learned
from cure.ensemble import simulate
from cure.forecast import MEMBERS, Ensemble, Point, Slabwork, Span, Weather
from cure.foresee import AT_ONCE
from cure.going_on import Earned, Onward, onward
from cure.hydration import CLASSES, hydration_of
from cure.own_strength import strength_h
from cure.strength import CURVES
from deploy.bench.mixes import Array
from deploy.bench.truths import BEFORE_H, Curve, Truths, truths
from deploy.bench.twin_scores import HORIZON_H, Row, lines, read, row_of, scores, written
from shared.models.base import HOUR_MS, PourId, SensorId
from shared.models.calibration import Calibration, ExponentialParameters
from shared.models.readings import Series
from shared.models.setup import MixSettings

POURS: Final = 240
DATA_H: Final = (6, 12, 18)
MPAS: Final = (3.5, 7.0)
CURVE: Final = Curve(40.0623, 2.80906 * 24.0, 0.624126)
"""Fitted to a mix of 385 kg/m3: tests/references/test_open_data.py."""
MIX: Final = MixSettings(id="twin", supplementary=False)
HYDRATION: Final = hydration_of(CLASSES["I"], 335.0, 0.5)
INSIDE, EDGE = SensorId("twin.0"), SensorId("twin.1")
BIAS_SD_C, FIRST_SD_C, LAST_SD_C, GROWS_H = 0.7, 0.5, 2.0, 24.0


def calibration() -> Calibration:
    """Return the calibration that the forecast has: the curve, with the spread that true pours have of it."""
    spread = (0.02 * CURVE.su_mpa, 0.03 * CURVE.tau_h, 1e-4)
    return Calibration(
        mix=MIX.id,
        version=1,
        made_on="2026-01-01",
        curve="exponential",
        parameters=ExponentialParameters(su_mpa=CURVE.su_mpa, tau_h=CURVE.tau_h, beta=CURVE.beta),
        covariance=tuple(tuple(spread[i] ** 2 * (i == j) for j in range(3)) for i in range(3)),
        degrees_of_freedom=8,
        tested_from_h=6.0,
        tested_to_h=672.0,
    )


def weather_of(true: Truths, i: int, issued_h: int, rng: np.random.Generator) -> Weather:
    """Return what is known of the weather: measured until now, a forecast from then on that is ever farther off."""
    n = len(true.air_c[i])
    hours = np.arange(n) - BEFORE_H
    lead = np.maximum(0, hours - issued_h)
    sd = np.where(lead > 0, FIRST_SD_C + (LAST_SD_C - FIRST_SD_C) * np.minimum(1.0, lead / GROWS_H), 0.3)
    wandering, now = np.empty(n), rng.standard_normal()
    for k in range(n):
        now = 0.93 * now + math.sqrt(1.0 - 0.93**2) * rng.standard_normal()
        wandering[k] = now
    error = sd * wandering + np.where(lead > 0, rng.normal(0.0, BIAS_SD_C), 0.0)
    return Weather(
        hours_ms=hours.astype(np.int64) * HOUR_MS,
        air_c=true.air_c[i] + error + rng.normal(0.0, 0.3),
        wind_m_per_s=true.wind_m_per_s[i] * rng.lognormal(0.0, 0.2),
        humidity_percent=true.humidity_percent[i],
        sun_w_per_m2=true.sun_w_per_m2[i] * rng.lognormal(0.0, 0.2),
        cloud_share=np.clip(true.cloud[i] + rng.normal(0.0, 0.15, n), 0.0, 1.0),
        air_sd_c=sd,
        bias_sd_c=BIAS_SD_C,
        issued_ms=issued_h * HOUR_MS,
        source="twin",
    )


def pour_of(true: Truths, i: int, issued_h: int, rng: np.random.Generator) -> Slabwork:
    """Return a true pour as the forecast sees it, with its readings through an hour."""
    known = true.read_h <= issued_h + 1e-9
    taken = np.round(true.read_h[known] * HOUR_MS).astype(np.int64)
    read = [Series(taken, np.round(true.read_c[i, known, k] * 1000.0).astype(np.int64)) for k in range(2)]
    cover = (Span(4 * HOUR_MS, 2**62, float(true.cover[i])),) if true.cover[i] > 0.0 else ()
    return Slabwork(
        pour=PourId(f"twin-{i}"),
        placed_ms=0,
        end_ms=0,
        thickness_mm=float(true.thickness_mm[i]),
        hydration=HYDRATION,
        placing_c=float(true.expected_placing_c[i]),
        weather=weather_of(true, i, issued_h, rng),
        points=(Point(INSIDE, 0.5, series=read[0]), Point(EDGE, 0.5, edge=True, series=read[1])),
        covers=cover,
    )


def earned_of(work: Slabwork, data_h: int) -> Earned:
    """Return what the readings have earned since the placing."""
    sums, newest = {}, {}
    for name, series in ((p.sensor, p.series) for p in work.points if p.series is not None):
        first, rest = series.milli_c[0] / 1000.0, Series(series.taken_ms[1:], series.milli_c[1:])
        track = advance(Carried(0, float(first)), rest, law=Law(), interval_ms=900_000)
        sums[name], newest[name] = track.sums[-1], float(track.temperature_c[-1])
    return Earned(data_h * HOUR_MS, sums, newest)


def hours_of(works: Sequence[Slabwork], earned: Sequence[Earned], members: int) -> list[dict[float, Array]]:
    """Return the members' hours of each strength, from the placing on, of each pour."""
    found = []
    for begin in range(0, len(works), AT_ONCE):
        part, had = works[begin : begin + AT_ONCE], earned[begin : begin + AT_ONCE]
        kept = learned(part, [begun(w, members) for w in part], [e.through_ms for e in had])
        steps = [2 * round(HORIZON_H) + 1] * len(part)
        for work, of, (_, now), run in zip(part, had, kept, simulate(part, [k for _, k in kept], steps), strict=True):
            found.append(_strengths(now, onward(work, now, run, of, None, MIX)))
    return found


def _strengths(now: Ensemble, on: Onward) -> dict[float, Array]:
    hours = on.earned.through_ms / HOUR_MS + strength_h(on, now, calibration(), MPAS)
    return dict(zip(MPAS, hours, strict=True))


def _present_h(earned: Earned, mpa: float) -> float:
    """Return the hour by the present rate of the colder sensor."""
    p = calibration().parameters
    needed = CURVES["exponential"].age_h(mpa, p)
    hours = []
    for sensor, sums in earned.sums.items():
        rate = float(Law().rate(np.array([earned.newest_c[sensor]]))[0])
        left = max(0.0, needed - float(sums[0]))
        hours.append(0.0 if left == 0.0 else left / rate if rate > 0.0 else math.inf)
    return earned.through_ms / HOUR_MS + max(hours)


def rows(
    pours: int = POURS,
    seed: int = 1,
    data_h: Sequence[int] = DATA_H,
    members: int = MEMBERS,
    only: slice = slice(None),
) -> list[Row]:
    """Return what was foreseen of true pours, of each strength at each number of hours of data, and what came.

    Args:
        pours: how many are drawn.
        seed: of what is drawn.
        data_h: hours of data.
        members: of each ensemble.
        only: which of the pours are foreseen: a pour is the same, alone or with the others.
    """
    heat = float(HYDRATION.heat_j_per_m3[0] * HYDRATION.ultimate[0])
    true = truths(np.random.default_rng(seed), pours, CURVE, heat, MPAS)
    found = []
    for hours in data_h:
        rng = np.random.default_rng([seed, hours])
        works = [pour_of(true, i, hours, rng) for i in range(pours)][only]
        earned = [earned_of(work, hours) for work in works]
        ours = hours_of(works, earned, members)
        blind = [replace(w, points=tuple(replace(p, series=None) for p in w.points)) for w in works]
        prior = hours_of(blind, [Earned(0)] * len(works), members)
        for mpa in MPAS:
            each = zip(range(pours)[only], true.strong_h[mpa][only], ours, prior, earned, strict=True)
            found += [
                row_of(mpa, hours, (i, float(truth)), (now[mpa], was[mpa]), _present_h(had, mpa))
                for i, truth, now, was, had in each
            ]
    return found


def main() -> None:
    """Print the scores."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pours", type=int, default=POURS)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--members", type=int, default=MEMBERS)
    parser.add_argument("--data-h", type=int, nargs="+", default=list(DATA_H))
    parser.add_argument("--first", type=int, default=0, help="of the pours, from this one on")
    parser.add_argument("--last", type=int, help="to before this one")
    parser.add_argument("--rows", metavar="FILE", help="write what was foreseen of each pour")
    parser.add_argument("--of", metavar="FILE", nargs="+", help="score rows that were written, of several parts")
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args()
    if asked.of:
        found = [row for name in asked.of for row in read(Path(name).read_text(encoding="utf-8"))]
    else:
        only = slice(asked.first, asked.last)
        found = rows(asked.pours, asked.seed, asked.data_h, asked.members, only)
    if asked.rows:
        Path(asked.rows).write_text(written(found), encoding="utf-8")
    print(json.dumps([asdict(s) for s in scores(found)]) if asked.json else "\n".join(lines(scores(found))))


if __name__ == "__main__":
    main()
