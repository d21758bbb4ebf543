"""Whether the protection that the planner proposes does what it is proposed for, tried on the demo's virtual slabs.

`python -m deploy.bench.protecting [--seeds 20] [--first 0] [--heating] [--json]`. The demo's physics
(`deploy.demo.truth`) shares nothing with the heat model that proposes. The true weather is the forecast with an error
that grows, the true cover, wind, space below, placing temperature and sensors are off by what they are off on sites;
the strip is judged by the readings alone.
"""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.accumulate import Carried, Law, advance
from cure.bound import lower_bound_mpa
from cure.forecast import Weather
from cure.plan_case import Heat, Told, judged_by, work_of
from cure.planned import Judged, foreseen
from cure.planner import Offer, Protection, Question, least_protection
from cure.plans import COMMON_C, COMMON_HOURS, STRIP_MPA
from deploy.bench.mixes import Array
from deploy.demo import weather as demo
from deploy.demo.scenario import SITE_FILE, Slab, Spot, monday
from deploy.demo.truth import Truth, simulate
from shared.models.base import HOUR_MS, MINUTE_MS, STRIP, BayId, Ms
from shared.models.readings import Series
from shared.models.setup import Setup
from shared.sitefile import load

BAY: Final = BayId("2-b1")
CHANCE: Final = 0.8
SEEDS: Final = 20
WANTED_SEEDS: Final = 16
HOURS: Final = 60
"""Foreseen, and simulated."""
QUARTER_MS: Final = 15 * MINUTE_MS
HEAT: Final = Heat("I", 360.0, 0.5)
SPOTS: Final = ((Spot.EDGE, 50.0), (Spot.INTERIOR, 50.0), (Spot.INTERIOR, 20.0), (Spot.END, 50.0))
"""Where the required sensors of the bay are."""
FIRST_SD_C, LAST_SD_C, GROWS_H, BIAS_SD_C = 0.5, 2.0, 24.0, 0.7
STEADINESS: Final = 0.93
PLACING_SD_C, SENSOR_SD_C, NOISE_C = 2.5, 0.4, 0.1
COVER_LN, WIND_LN_SD = (-0.1, 0.4), 0.25
BELOW_SD_C: Final = 1.0
"""All our judgement, as in `deploy.bench.truths`."""


COVERS: Final = Offer(below_c=())
"""A site that has blankets, and can heat nothing..."""
HEATERS: Final = Offer(covers_m2_k_per_w=())
"""... and one that heats the space below, and has none."""


@dataclass(frozen=True, slots=True)
class Trial:
    """One pour: what was proposed, and what came of it."""

    seed: int
    start_ms: Ms
    wanted_ms: Ms
    proposed: Protection | None
    """None: nothing that was tried is foreseen to meet it, and nothing is tried."""
    chance: float | None
    met: bool | None


def forecast(start_ms: Ms) -> Weather:
    """Return the demo's weather as it is forecast when a pour begins: the table itself, a covered sky."""
    at_ms = np.arange(start_ms // HOUR_MS - 1, start_ms // HOUR_MS + HOURS + 6, dtype=np.int64) * HOUR_MS
    hours = [demo.weather(int(t)) for t in at_ms]
    lead_h = np.maximum(0.0, (at_ms - start_ms) / HOUR_MS)
    ones = np.ones(len(at_ms))
    return Weather(
        at_ms,
        np.array([h.air_c for h in hours]),
        np.array([h.wind_m_per_s for h in hours]),
        75.0 * ones,
        np.array([h.sun_w_per_m2 for h in hours]),
        ones,
        FIRST_SD_C + (LAST_SD_C - FIRST_SD_C) * np.minimum(1.0, lead_h / GROWS_H),
        BIAS_SD_C,
        start_ms,
        "demo",
    )


def true_sky(rng: np.random.Generator, told: Weather) -> Callable[[Ms], demo.Weather]:
    """Return the weather that comes: what was forecast, and an error of that spread."""
    wandering, now = np.empty(len(told.hours_ms)), rng.standard_normal()
    for i in range(len(wandering)):
        now = STEADINESS * now + math.sqrt(1.0 - STEADINESS**2) * rng.standard_normal()
        wandering[i] = now
    bias, wind = rng.normal(0.0, BIAS_SD_C), rng.lognormal(0.0, WIND_LN_SD)
    error = told.air_sd_c * wandering + bias

    def sky(at: Ms) -> demo.Weather:
        was = demo.weather(at)
        off = float(np.interp(at, told.hours_ms, error))
        return demo.Weather(was.air_c + off, was.wind_m_per_s * wind, was.sky_loss_w_per_m2, was.sun_w_per_m2)

    return sky


def readings(
    rng: np.random.Generator, slab: Slab, sky: Callable[[Ms], demo.Weather]
) -> tuple[NDArray[np.int64], Array]:
    """Return times from the end of the pour on, shape (n,), and what each sensor reads, shape (n, sensors). [degC]"""
    last_ms = slab.end_ms + HOURS * HOUR_MS
    true = Truth([slab], simulate([slab], slab.start_ms - HOUR_MS, last_ms, sky))
    times = np.arange(slab.end_ms, last_ms, QUARTER_MS, dtype=np.int64)
    c = np.array([[true.temperature_c(slab.bay, *where, int(t)) for where in SPOTS] for t in times])
    read = c + rng.normal(0.0, SENSOR_SD_C, len(SPOTS)) + rng.normal(0.0, NOISE_C, c.shape)
    return times, np.round(read * 16.0) / 16.0


def stripped_ms(times: NDArray[np.int64], read_c: Array, judged: Judged) -> float:
    """Return when the plan's strip is met by readings of shape (n, sensors); infinite: not in time."""
    coldest = read_c.min(axis=1)
    warm = coldest >= COMMON_C
    counted = np.concatenate(([0.0], np.cumsum(warm[1:] & warm[:-1]) * QUARTER_MS / HOUR_MS))
    through = np.array([warm[max(0, i - HOUR_MS // QUARTER_MS) : i + 1].all() for i in range(len(warm))])
    strong = np.ones(len(times), bool)
    for column in np.round(read_c.T * 1000.0).astype(np.int64):
        begun = Carried(int(times[0]), column[0] / 1000.0)
        law = Law.of(judged.calibration)
        track = advance(begun, Series(times[1:], column[1:]), law=law, interval_ms=QUARTER_MS)
        strong &= lower_bound_mpa(track.sums, judged.calibration, judged.mix) >= STRIP_MPA
    met = (counted >= COMMON_HOURS) & through & strong
    return float(times[np.argmax(met)]) if met.any() else math.inf


def trial(seed: int, setup: Setup, members: int = 100, offer: Offer = COVERS) -> Trial:
    """Return one pour at a random hour of the demo's days, wanted 26 to 36 h after its end."""
    rng = np.random.default_rng([seed, 7])
    start_ms = monday(int(rng.integers(5, 30)))
    told = Told(BAY, start_ms, 2.0, 18.0, heat=HEAT)
    work, judged = work_of(setup, told, forecast(start_ms)), judged_by(setup, told)
    wanted_ms = work.end_ms + round(rng.uniform(26.0, 36.0) * HOUR_MS)
    only_strip = Judged({STRIP: judged.requirements[STRIP]}, judged.calibration, judged.mix)
    asked = Question(only_strip, STRIP, wanted_ms, CHANCE)
    found = least_protection(work, asked, offer, partial(foreseen, hours=HOURS, members=members)).best
    if found is None:
        return Trial(seed, start_ms, wanted_ms, None, None, None)
    by = found.protection
    laid = work.end_ms + round(by.cover_on_h * HOUR_MS)
    off = laid + round((HOURS if by.cover_for_h is None else by.cover_for_h) * HOUR_MS)
    true_r = by.cover_m2_k_per_w * rng.lognormal(*COVER_LN)
    placed_c = 18.0 + PLACING_SD_C * float(np.clip(rng.standard_normal(), -2.5, 2.5))
    heated, below_c = (0, 0), 0.0
    if by.below_c is not None:
        heated, below_c = (start_ms, off), by.below_c + BELOW_SD_C * float(np.clip(rng.standard_normal(), -2.5, 2.5))
    slab = Slab(BAY, 100.0, placed_c, start_ms, work.end_ms, 0, (laid, off), true_r, heated, below_c)
    met_ms = stripped_ms(*readings(rng, slab, true_sky(rng, work.weather)), judged)
    return Trial(seed, start_ms, wanted_ms, by, found.chance, met_ms <= wanted_ms)


def trials(seeds: int = SEEDS, first: int = 0, members: int = 100, offer: Offer = COVERS) -> list[Trial]:
    """Return pours from a seed on until so many had a proposal."""
    setup, found, seed = load(SITE_FILE), list[Trial](), first
    while sum(t.proposed is not None for t in found) < seeds:
        found.append(trial(seed, setup, members, offer))
        seed += 1
    return found


def line(found: Sequence[Trial]) -> str:
    """Return what came of them in words."""
    proposed = [t for t in found if t.proposed is not None]
    met = sum(t.met is True for t in proposed)
    bare = sum(t.proposed == Protection() for t in proposed)
    mean = float(np.mean([t.chance or 0.0 for t in proposed]))
    return (
        f"{met} of {len(proposed)} met the wanted hour (wanted: {WANTED_SEEDS} of {SEEDS} at {100 * CHANCE:.0f} %); "
        f"mean chance told {mean:.2f}; {bare} without protection; for {len(found) - len(proposed)} nothing was proposed"
    )


def main() -> None:
    """Print what came of it."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--seeds", type=int, default=SEEDS)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--heating", action="store_true", help="the site has heaters below in place of covers")
    parser.add_argument("--json", action="store_true")
    args = parser.parse_args()
    found = trials(args.seeds, args.first, offer=HEATERS if args.heating else COVERS)
    print(json.dumps([asdict(t) for t in found]) if args.json else line(found))


if __name__ == "__main__":
    main()
