"""The heat model run for all members of several pours at once, and what their points read. Pure.

Pours lie side by side as columns and do not know of each other: alone or together, a pour gets the same numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.draws import (
    LN_SUN,
    LN_WIND,
    air_noise,
    edge_share,
    factor,
    placing_c,
    shared,
    slab_of,
)
from cure.forecast import Ensemble, Slabwork, Span, Weather
from cure.maturity import Floats
from cure.slab import HOUR_S, Face, State, at_depth_c, step
from cure.surfaces import (
    ABSORPTIVITY,
    EMISSIVITY,
    STILL_AIR_W_PER_M2_K,
    Below,
    Outdoors,
    Top,
    bottom_face,
    clear_sky_w_per_m2,
    swinbank_sky_c,
    top_face,
)
from shared.models.base import HOUR_MS, Ms

STEP_MS: Final = HOUR_MS // 2
CELLS: Final = 8
DAMPED: Final = 2
"""Steps from the start by backward Euler."""
LEANING: Final = 0.6
"""Weight of the new temperatures afterwards: nearly of second order, and no swing where a cover comes off. One for all
steps of all pours, so that a pour does not feel the covers of another."""
HEAT_PASSES: Final = 1
"""The heat of a step by the temperature at its begin: a test says how little that is beside the spread."""
CLOUD: Final = 0.8
"""Of what a clear sky takes, a closed one takes so much less (our judgement)."""


@dataclass(frozen=True, slots=True)
class Run:
    """What the members of one pour did, from a hour on in steps of `STEP_MS`; shape (steps + 1, ..., members)."""

    from_ms: Ms
    points_c: Floats
    """Concrete at each point, without the bias of its sensor, shape (steps + 1, points, members). [degC]"""
    coldest_c: Floats
    """Of all cells and points, shape (steps + 1, members). [degC]"""
    air_error_c: Floats
    """By which each member's air is off the weather that was given, shape (steps, members). [K]"""
    end: State
    """At the last step."""

    @property
    def times_ms(self) -> NDArray[np.int64]:
        """Hour of each state, shape (steps + 1,)."""
        return self.from_ms + STEP_MS * np.arange(len(self.coldest_c), dtype=np.int64)


@dataclass(frozen=True, slots=True)
class _Outside:
    """What is outside of one pour in each step, shape (steps, members) or (steps, 1)."""

    air_c: Floats
    air_error_c: Floats
    wind_m_per_s: Floats
    humidity_percent: Floats
    sun_w_per_m2: Floats
    sky_w_per_m2: Floats
    cover_m2_k_per_w: Floats
    wet: Floats
    below_c: Floats
    forms_m2_k_per_w: Floats
    film_factor: Floats
    below_factor: Floats


def at_hours(weather: Weather, values: Floats, times_ms: Floats) -> Floats:
    """Return weather between its hours; before the first and after the last it stays as it is there."""
    return np.interp(times_ms, weather.hours_ms.astype(np.float64), values)


def spans_at(spans: Sequence[Span], times_ms: Floats) -> Floats:
    """Return the value that is on at each time, the last entered of several, shape (times,); NaN: none."""
    found = np.full(len(times_ms), np.nan)
    for span in spans:
        found[(times_ms >= span.from_ms) & (times_ms < span.to_ms)] = span.value
    return found


def air_error_c(work: Slabwork, scores: Floats, times_ms: Floats) -> Floats:
    """Return by how much each member's air is off the weather given, shape (times, members). [K]"""
    weather, spread = work.weather, work.spread
    hours = np.maximum(0.0, (times_ms - work.placed_ms) / HOUR_MS)
    noise = air_noise(work, int(hours[-1]) + 2, scores.shape[1])
    low = hours.astype(np.int64)
    part = (hours - low)[:, None]
    wandering = (1.0 - part) * noise[low] + part * noise[low + 1]
    wandering *= spread.widened * at_hours(weather, weather.air_sd_c, times_ms)[:, None]
    here = spread.widened * spread.air_c * shared(scores, "air here")
    ahead = spread.widened * weather.bias_sd_c * shared(scores, "air ahead")
    return np.asarray(wandering + here + ahead * (times_ms > weather.issued_ms)[:, None])


def _outside(work: Slabwork, scores: Floats, times_ms: Floats) -> _Outside:
    weather, spread = work.weather, work.spread

    def given(values: Floats) -> Floats:
        return at_hours(weather, values, times_ms)[:, None]

    error = air_error_c(work, scores, times_ms)
    air = given(weather.air_c) + error
    ahead = (times_ms > weather.issued_ms)[:, None]
    wind = given(weather.wind_m_per_s) * np.where(ahead, factor(work, scores, "wind ahead", LN_WIND), 1.0)
    cover = np.nan_to_num(spans_at(work.covers, times_ms), nan=0.0)[:, None]
    heated = spans_at(work.heated, times_ms)[:, None]
    below = np.where(np.isnan(heated), air, heated) + spread.widened * spread.below_c * shared(scores, "below air")
    return _Outside(
        air,
        error,
        wind,
        np.clip(given(weather.humidity_percent), 0.0, 100.0),
        given(weather.sun_w_per_m2) * factor(work, scores, "sun here", LN_SUN),
        clear_sky_w_per_m2(air, swinbank_sky_c(air)) * (1.0 - CLOUD * np.clip(given(weather.cloud_share), 0.0, 1.0)),
        cover * factor(work, scores, "cover", spread.ln_cover),
        np.where(times_ms < work.placed_ms + work.wet_h * HOUR_MS, 1.0, 0.0)[:, None],
        below,
        np.where(times_ms < work.forms_off_ms, work.forms_m2_k_per_w, 0.0)[:, None],
        factor(work, scores, "film", spread.ln_film)[None],
        factor(work, scores, "below", spread.ln_below)[None],
    )


def _joined(parts: Sequence[_Outside], members: Sequence[int], name: str) -> Floats:
    """Return one quantity of all pours side by side, shape (steps, columns)."""
    arrays = [getattr(part, name) for part in parts]
    steps = max(len(part.air_c) for part in parts)
    return np.concatenate(
        [np.broadcast_to(a, (steps, n)) for a, n in zip(arrays, members, strict=True)],
        axis=1,
    )


class _Faces:
    """Above and below all columns in each step."""

    def __init__(self, parts: Sequence[_Outside], members: Sequence[int]) -> None:
        self._of = {name: _joined(parts, members, name) for name in _Outside.__slots__ if name != "air_error_c"}
        columns = sum(members)
        self._absorptivity, self._emissivity = np.full(columns, ABSORPTIVITY), np.full(columns, EMISSIVITY)

    def at(self, i: int, surface_c: Floats) -> tuple[Face, Face]:
        now = {name: values[i] for name, values in self._of.items()}
        outdoors = Outdoors(
            now["air_c"], now["wind_m_per_s"], now["humidity_percent"], now["sun_w_per_m2"], now["sky_w_per_m2"]
        )
        top = Top(now["cover_m2_k_per_w"], now["wet"], now["film_factor"], self._absorptivity, self._emissivity)
        below = Below(
            now["below_c"],
            now["forms_m2_k_per_w"] / now["below_factor"],
            STILL_AIR_W_PER_M2_K * now["below_factor"],
        )
        return top_face(outdoors, top, surface_c), bottom_face(below)


def placed_ensemble(work: Slabwork, scores: Floats) -> Ensemble:
    """Return the members of a pour as placed."""
    state = State(np.tile(placing_c(work, scores), (CELLS, 1)), np.zeros((CELLS, scores.shape[1])))
    return Ensemble(work.placed_ms, scores, state)


def simulate(works: Sequence[Slabwork], ensembles: Sequence[Ensemble], steps: Sequence[int]) -> list[Run]:
    """Return what the members of pours do from where they stand.

    Args:
        works: the pours.
        ensembles: their members, each pour's from its own `through_ms` on.
        steps: of `STEP_MS`, one or more for each pour; the first two are damped.
    """
    scores = [e.drawn for e in ensembles]
    members = [of.shape[1] for of in scores]
    longest = max(steps)
    middles: list[Floats] = [e.through_ms + STEP_MS * (np.arange(longest, dtype=np.float64) + 0.5) for e in ensembles]
    outside = [_outside(*of) for of in zip(works, scores, middles, strict=True)]
    slab, faces = slab_of(works, scores), _Faces(outside, members)
    state = State(
        np.concatenate([e.state.temperature_c for e in ensembles], axis=1),
        np.concatenate([e.state.age_h for e in ensembles], axis=1),
    )
    cuts = np.cumsum(members)[:-1]
    readers = [_Reader(*of) for of in zip(works, scores, outside, steps, strict=True)]
    for i in range(longest + 1):
        split = (np.split(values, cuts, axis=1) for values in (state.temperature_c, state.age_h))
        for reader, cells, ages in zip(readers, *split, strict=True):
            reader.read(i, cells, ages)
        if i < longest:
            weight = 1.0 if i < DAMPED else LEANING
            outer = faces.at(i, state.temperature_c[0])
            state, _ = step(slab, state, outer, STEP_MS / HOUR_MS * HOUR_S, weight, HEAT_PASSES)
    return [
        Run(e.through_ms, r.points_c, r.coldest_c, o.air_error_c[:n], r.end)
        for e, r, o, n in zip(ensembles, readers, outside, steps, strict=True)
    ]


class _Reader:
    """Reads the points of one pour at each step."""

    def __init__(self, work: Slabwork, scores: Floats, outside: _Outside, steps: int) -> None:
        self._air_c, self._steps = outside.air_c, steps
        self.end = State(np.empty(0), np.empty(0))
        self._depths = [point.depth_share for point in work.points]
        self._edges = [edge_share(work, scores, k) if p.edge else None for k, p in enumerate(work.points)]
        self.points_c = np.empty((steps + 1, len(work.points), scores.shape[1]))
        self.coldest_c = np.empty((steps + 1, scores.shape[1]))

    def read(self, i: int, cells_c: Floats, ages_h: Floats) -> None:
        if i > self._steps:
            return
        if i == self._steps:
            self.end = State(cells_c.copy(), ages_h.copy())
        coldest, air = cells_c.min(axis=0), self._air_c[min(i, self._steps - 1)]
        for k, (depth, edge) in enumerate(zip(self._depths, self._edges, strict=True)):
            here = at_depth_c(cells_c, depth)
            self.points_c[i, k] = here if edge is None else here + edge * (air - here)
            coldest = np.minimum(coldest, self.points_c[i, k])
        self.coldest_c[i] = coldest
