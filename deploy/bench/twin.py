"""How good the forecast is: true pours in real winters, by another model than its own, at 6, 12 and 18 h of data.

`python -m deploy.bench.twin [--pours 240] [--seed 1] [--json]`. What is scored is the hour at which the concrete has a
strength; what had it before, or does not have it within the horizon, counts as that hour, and none is left out.
"""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Final

import numpy as np

from cure.accumulate import Carried, Law, advance
from cure.assimilate import begun, learned
from cure.ensemble import simulate
from cure.forecast import Ensemble, Point, Slabwork, Span, Weather
from cure.foresee import AT_ONCE
from cure.going_on import Earned, Onward, onward
from cure.hydration import CLASSES, hydration_of
from cure.own_strength import strength_h
from cure.scoring import crps_until
from cure.strength import CURVES
from deploy.bench.mixes import Array
from deploy.bench.truths import BEFORE_H, Curve, Truths, truths
from shared.models.base import HOUR_MS, PourId, SensorId
from shared.models.calibration import Calibration, ExponentialParameters
from shared.models.readings import Series
from shared.models.setup import MixSettings

POURS: Final = 240
DATA_H: Final = (6, 12, 18)
MPAS: Final = (3.5, 7.0)
CALENDAR_H: Final = {3.5: 24.0, 7.0: 48.0}
"""What a clock and a rule of thumb say."""
HORIZON_H: Final = 120.0
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
    """CRPS without the readings..."""
    calendar_h: float
    """... of the calendar, and..."""
    present_h: float
    """... of going on at the present rate."""
    bias_h: float
    """Median of the forecast's middle less the truth."""


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
    begun_h = on.earned.through_ms / HOUR_MS
    return {mpa: begun_h + strength_h(on, now, calibration(), mpa) for mpa in MPAS}


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


def twin(pours: int = POURS, seed: int = 1, data_h: Sequence[int] = DATA_H, members: int = 300) -> list[Score]:
    """Return the scores of forecasts of true pours, of each strength at each number of hours of data."""
    heat = float(HYDRATION.heat_j_per_m3[0] * HYDRATION.ultimate[0])
    true = truths(np.random.default_rng(seed), pours, CURVE, heat, MPAS)
    found = []
    for hours in data_h:
        rng = np.random.default_rng([seed, hours])
        works = [pour_of(true, i, hours, rng) for i in range(pours)]
        earned = [earned_of(work, hours) for work in works]
        ours = hours_of(works, earned, members)
        blind = [replace(w, points=tuple(replace(p, series=None) for p in w.points)) for w in works]
        prior = hours_of(blind, [Earned(0)] * pours, members)
        for mpa in MPAS:
            present = [_present_h(e, mpa) for e in earned]
            of = ([h[mpa] for h in ours], [h[mpa] for h in prior], present)
            found.append(_score(mpa, hours, true.strong_h[mpa], *of))
    return found


def _score(mpa: float, data_h: int, truth: Array, ours: list[Array], prior: list[Array], present: list[float]) -> Score:
    ends = data_h + HORIZON_H
    # What was strong before the data's last hour is known by nobody as an earlier one.
    hour = np.clip(truth, data_h, ends)

    def crps(several: list[Array]) -> float:
        held = [np.clip(of, data_h, ends) for of in several]
        return float(np.mean([crps_until(of, float(h), ends) for of, h in zip(held, hour, strict=True)]))

    members = np.stack([np.sort(np.clip(of, data_h, ends)) for of in ours])
    low, middle, high = (members[:, max(0, math.ceil(q * members.shape[1]) - 1)] for q in (0.1, 0.5, 0.9))
    return Score(
        mpa=mpa,
        data_h=data_h,
        pours=len(hour),
        censored=int(np.sum(truth > ends)),
        cover=float(np.mean((hour >= low) & (hour <= high))),
        missed=float(np.mean(hour > high)),
        width_h=float(np.mean(high - low)),
        crps_h=crps(ours),
        prior_h=crps(prior),
        calendar_h=crps([np.array([CALENDAR_H[mpa]])] * len(hour)),
        present_h=crps([np.array([h]) for h in present]),
        bias_h=float(np.median(middle - hour)),
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


def main() -> None:
    """Print the scores."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pours", type=int, default=POURS)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--members", type=int, default=300)
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args()
    scores = twin(asked.pours, asked.seed, members=asked.members)
    print(json.dumps([asdict(s) for s in scores]) if asked.json else "\n".join(lines(scores)))


if __name__ == "__main__":
    main()
