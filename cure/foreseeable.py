"""What is asked of the forecast for a pour of the site book: its slab, its sensors, what it has earned. Pure.

What is not known is taken as usual, widened and said; where that would be a guess nothing is foreseen, with a reason.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from cure.bay import BayEvidence
from cure.clockstart import clock_start
from cure.credit import LAST_MS, NO_EDGE_ALLOWANCE_C, SensorTrack, said_spans
from cure.forecast import COVER_M2_K_PER_W, FOR_EVER_MS, NoForecast, Point, Slabwork, Span, Spread, Weather
from cure.foresee import Asked
from cure.going_on import Earned
from cure.hydration import CLASSES, Hydration, hydration_of
from cure.in_place import in_place
from cure.maturity import Floats
from cure.requirements import findings
from shared.models.base import HOUR_MS, STRIP, Ms, Operation, SensorId
from shared.models.decisions import GateState
from shared.models.readings import Series
from shared.models.requirement import AllRule, AnyRule, CountedRule, Rule, WarmRule
from shared.models.setup import Zone
from shared.ports import PourCase

USUAL_BINDER_KG_PER_M3, USUAL_WATER_BINDER, USUAL_CEMENT = 320.0, 0.5, "I"
"""Of a mix without heat data (our judgement)."""
USUAL_SPREAD: Final = Spread(ln_heat=0.25, ln_tau=0.35)
CLASS_SPREAD: Final = Spread(ln_heat=0.20, ln_tau=0.25)
"""Where the class of the cement is known."""
RETARDED_LN_TAU: Final = 0.40
"""A retarder puts setting off by 2 to 8 h (our judgement)."""
USUAL_PLACING_C: Final = 15.0
TOP_SHARE: Final = 0.2
"""Depth of a top sensor by the thickness, where none is entered."""
FIRST_READINGS_MS: Final = 2 * HOUR_MS
"""So soon after the placing a reading tells of the concrete as placed."""
STRIPPED: Final = frozenset({GateState.UNDER_WAY, GateState.DONE, GateState.DONE_WITHOUT_RELEASE})


def asked_of(evidence: BayEvidence, plan: Mapping[Operation, Rule], weather: Weather) -> Asked | NoForecast:
    """Return what to ask for a pour, or why nothing can be foreseen of it.

    Args:
        evidence: what its readings say now.
        plan: what each operation needs.
        weather: over its bay, from its start on.
    """
    case, end_ms, through_ms = evidence.case, clock_start(evidence.case), evidence.watermark_ms
    refusal = why_not(evidence)
    if refusal is not None or end_ms is None or through_ms is None:
        return refusal or NoForecast(case.pour.id, "its evidence is not known", "look at its sensors")
    hydration, spread, notes = heat_of(case)
    placed_ms = (case.pour.start_ms + (case.pour.end_ms or end_ms)) // 2
    lowered_c = _lowered_c(case)
    points = tuple(_point(case, s, lowered_c) for s in evidence.sensors)
    work = Slabwork(
        pour=case.pour.id,
        placed_ms=placed_ms,
        end_ms=end_ms,
        thickness_mm=float(case.bay.thickness_mm),
        hydration=hydration,
        placing_c=_placing_c(points, placed_ms),
        weather=weather,
        points=points,
        covers=tuple(Span(on, _until(off), COVER_M2_K_PER_W) for on, off in said_spans(case.state)),
        heated=tuple(heated_spans(case)),
        forms_off_ms=_forms_off_ms(case),
        spread=spread,
    )
    earned = _earned(evidence, plan, through_ms, lowered_c)
    return Asked(
        work,
        earned,
        plan,
        case.calibration,
        case.mix,
        evidence.now_ms,
        notes=(*notes, *_silent(evidence)),
        may_strip=_forms_off_ms(case) == FOR_EVER_MS,
    )


def heated_spans(case: PourCase) -> Iterator[Span]:
    """Yield when the space below is heated, and to what; where nobody knows to what, it is as if it were not."""
    for on_ms, off_ms, below_c in case.state.memory.get("heated", []):
        if below_c is not None:
            yield Span(int(on_ms), FOR_EVER_MS if off_ms is None else int(off_ms), float(below_c))


def why_not(evidence: BayEvidence) -> NoForecast | None:
    """Return why nothing can be foreseen of a pour by what is known of it; None: it can."""
    pour = evidence.case.pour
    if pour.end_ms is None or clock_start(evidence.case) is None:
        return NoForecast(pour.id, "the end of the pour is not entered", "enter the hour of its last concrete")
    if not any(s.placement.required for s in evidence.sensors):
        return NoForecast(pour.id, "no required sensor in the concrete", "place one, and say so in the site file")
    if not evidence.fresh() or evidence.watermark_ms is None:
        said = evidence.alive()
        silent = "a required sensor has said nothing yet" if said == "yes" else said
        return NoForecast(pour.id, silent, "look at the logger: no gate opens before it speaks again")
    if not evidence.credited:
        return NoForecast(pour.id, "nobody vouches for the hours of its readings", "look at the clocks")
    return None


def _silent(evidence: BayEvidence) -> tuple[str, ...]:
    """Return which sensors are silent, and what stands in for them: the forecast goes on with that."""
    said = evidence.alive()
    return () if said == "yes" else (said,)


def heat_of(case: PourCase) -> tuple[Hydration, Spread, tuple[str, ...]]:
    """Return how a pour's mix is expected to hydrate, with its spread, and what is to be said of it."""
    heat, mix = case.mix.heat, case.mix
    if heat is None:
        usual = hydration_of(CLASSES[USUAL_CEMENT], USUAL_BINDER_KG_PER_M3, USUAL_WATER_BINDER)
        note = f"mix {mix.id} has no heat data: {USUAL_BINDER_KG_PER_M3:.0f} kg/m3 of cement {USUAL_CEMENT} taken"
        return usual, _retarded(USUAL_SPREAD, retarded=mix.retarded), (note,)
    of = CLASSES[heat.cement]
    binder = replace(of.binder, fly_ash=heat.fly_ash, slag=heat.slag)
    found = hydration_of(replace(of, binder=binder), heat.binder_kg_m3, heat.water_binder)
    return found, _retarded(CLASS_SPREAD, retarded=mix.retarded), ()


def _retarded(spread: Spread, *, retarded: bool) -> Spread:
    return replace(spread, ln_tau=max(spread.ln_tau, RETARDED_LN_TAU)) if retarded else spread


def _lowered_c(case: PourCase) -> float:
    at_edge = any(p.zone is Zone.EXPOSED_EDGE and p.required and p.to_ms is None for p in case.placements)
    return 0.0 if at_edge else NO_EDGE_ALLOWANCE_C


def _point(case: PourCase, s: SensorTrack, lowered_c: float) -> Point:
    depth, thickness = s.placement.depth_mm, case.bay.thickness_mm
    usual = TOP_SHARE if s.placement.zone is Zone.TOP else 0.5
    share = usual if depth is None else min(1.0, depth / thickness)
    raw = Series(s.raw.taken_ms, s.raw.milli_c + round(lowered_c * 1000))
    return Point(s.placement.sensor, share, s.placement.zone is Zone.EXPOSED_EDGE, raw, s.placement.required)


def _placing_c(points: tuple[Point, ...], placed_ms: Ms) -> float:
    """Return the middle of what sensors read soon after the placing; the usual where none did. [degC]"""
    said = []
    for series in (point.series for point in points if point.series is not None):
        soon = (series.taken_ms >= placed_ms) & (series.taken_ms <= placed_ms + FIRST_READINGS_MS)
        said += [float(milli_c) / 1000.0 for milli_c in series.milli_c[soon][:1]]
    return float(np.median(said)) if said else USUAL_PLACING_C


def _until(off_ms: Ms) -> Ms:
    return FOR_EVER_MS if off_ms >= LAST_MS else off_ms


def _forms_off_ms(case: PourCase) -> Ms:
    strip = case.gates.get(STRIP)
    return strip.changed_ms if strip is not None and strip.state in STRIPPED else FOR_EVER_MS


def _earned(evidence: BayEvidence, plan: Mapping[Operation, Rule], through_ms: Ms, lowered_c: float) -> Earned:
    sums, newest = dict[SensorId, Floats](), dict[SensorId, float]()
    for sensor, track in evidence.credited:
        sums[sensor.placement.sensor] = track.at(through_ms)
        i = int(np.searchsorted(track.taken_ms, through_ms, side="right")) - 1
        newest[sensor.placement.sensor] = float(track.temperature_c[max(0, i)])
    rules = [rule for of in plan.values() for rule in _all_of(of)]
    limits = {rule.at_c for rule in rules if isinstance(rule, CountedRule | WarmRule)}
    return Earned(
        through_ms=through_ms,
        sums=sums,
        newest_c=newest,
        in_place=dict(in_place(evidence)),
        counted_h={c: evidence.counted_h(c) for c in limits},
        lowered_c=lowered_c,
        done=frozenset(op for op in plan if evidence.done(op)),
        unmet=tuple(rule for rule in rules if _not_met_by_time(rule, evidence)),
    )


def _all_of(rule: Rule) -> Iterator[Rule]:
    yield rule
    if isinstance(rule, AllRule | AnyRule):
        for part in rule.all if isinstance(rule, AllRule) else rule.any:
            yield from _all_of(part)


def _not_met_by_time(rule: Rule, evidence: BayEvidence) -> bool:
    if isinstance(rule, AllRule | AnyRule):
        return False
    return not all(f.met for f in findings(rule, evidence))
