"""Pours judged from the first reading to the last signature, as the service judges them, against true slabs.

The readings of each bay go through `cure.assess` under the plan `common-practice`. A quality controller signs in the
first round that finds the strip met, the engineer in the first that finds the load met: nobody here is slower than
that. What is held stays held.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from cure.assess import assess
from cure.plans import LOAD_MPA, STRIP_MPA
from cure.work import Standing
from deploy.bench.mixes import Array
from deploy.bench.slabs import NOISE_C, RESOLUTION_C, STEP_H, Slabs
from shared.models.acts import PourAct, act_from, instant
from shared.models.base import HOUR_MS, LOAD, STRIP, WALK, MixId, Ms, Operation, PourId, SensorId
from shared.models.calibration import Calibration
from shared.models.decisions import Gate, GateState, Placement, Pour, PourState
from shared.models.readings import Series
from shared.models.setup import SiteFile, Zone
from shared.ports import PourCase

END_MS: Final[Ms] = 1_795_435_200_000
MIX: Final = "c32-f"
POUR: Final = PourId("p-1")
COUNTED_H: Final = 24.0
COUNTED_AT_C: Final = 5.0
"""Of `common-practice`."""
REQUIRED_MPA: Final[dict[Operation, float]] = {STRIP: STRIP_MPA, LOAD: LOAD_MPA}
ROUND_STEPS: Final = 2
"""Half an hour."""
NEARLY_C: Final = 0.3
STEP_MS: Final = round(STEP_H * HOUR_MS)
WARMER_C: Final = {"exposed edge": 0.0, "last-placed end": 0.5, "interior": 1.0}
"""How much warmer than the edge the other sensors lie."""


@cache
def site(at_edge: bool) -> SiteFile:
    """Return a site of one bay, with or without a sensor at its edge."""
    zones = list(WARMER_C) if at_edge else list(WARMER_C)[1:]
    sensors = [{"id": f"lg-0{i}.1", "zone": zone, "depth_mm": 50} for i, zone in enumerate(zones, 1)]
    sensors.append({"id": "lg-09.1", "zone": "air", "required": False})
    bay = {"id": "1-a", "floor": "1", "mix": MIX, "thickness_mm": 100, "joist_spacing_mm": 1220, "exclusions": "none"}
    inbox = [{"kind": "inbox"}]
    return SiteFile.model_validate(
        {
            "site": {"id": "bench", "name": "Bench", "zone": "UTC", "clock_sync": "not-checked"},
            "plan": {
                "use": "common-practice",
                "adopted_by": "engineer of record",
                "document": "bench",
                "sign_offs": 1,
                "second_check": False,
            },
            "mix": [{"id": MIX, "supplementary": False}],
            "bay": [{**bay, "construction_load_kpa": 1.0, "sensors": sensors}],
            "recipient": [
                {"id": role, "role": role, "channels": inbox} for role in ("superintendent", "qc", "engineer")
            ],
        }
    )


def case_of(calibration: Calibration, *, at_edge: bool) -> PourCase:
    """Return the case of a pour whose end is on the book."""
    whole = site(at_edge)
    bay = whole.bay[0]
    placements = tuple(Placement(s.sensor_id, bay.bay_id, s.zone, s.depth_mm, 900, s.required) for s in bay.sensors)
    pour = Pour(POUR, bay.bay_id, MixId(MIX), END_MS - HOUR_MS, end_ms=END_MS, calibration_version=1)
    return PourCase(
        pour=pour,
        bay=bay,
        mix=whole.mix[0],
        site=whole,
        calibration=calibration,
        placements=placements,
        arrivals={},
        conflicts=(),
        gates={op: Gate(POUR, op) for op in (STRIP, WALK, LOAD)},
        holds=(),
        state=PourState(),
        stripping=(),
        withdrawal_confirmed={},
        input_revision=0,
        touched=0,
    )


def readings(
    slabs: Slabs, i: int, placements: tuple[Placement, ...], rng: np.random.Generator
) -> dict[SensorId, Series]:
    """Return what the sensors of a bay say, from an hour before the end of the pour on."""
    before = round(1.0 / STEP_H)
    times = END_MS + STEP_MS * np.arange(-before, slabs.air_c.shape[1], dtype=np.int64)
    coldest = min(WARMER_C[p.zone] for p in placements if p.zone is not Zone.AIR)

    def said(true_c: Array, off_c: float) -> Series:
        whole = np.concatenate((np.full(before, true_c[0]), true_c)) + off_c
        whole = whole + NOISE_C * rng.standard_normal(len(whole))
        return Series(times, np.round(1000.0 * np.round(whole / RESOLUTION_C) * RESOLUTION_C).astype(np.int64))

    found = {}
    for p in placements:
        if p.zone is Zone.AIR:
            found[p.sensor] = said(slabs.air_c[i], 0.0)
        else:
            found[p.sensor] = said(slabs.sensor_c[i] + WARMER_C[p.zone] - coldest, float(slabs.off_c[i]))
    return found


@dataclass
class Judged:
    """One pour as the service carries it from round to round."""

    case: PourCase
    data: Mapping[SensorId, Series]
    released_h: dict[Operation, float] = field(default_factory=dict)
    """Hours since the end of the pour at which each was signed."""

    def round(self, hours: float, act: PourAct | None = None) -> None:
        """Judge it once, and put the result back."""
        now = END_MS + round(hours * HOUR_MS)
        until = {s: int(np.searchsorted(r.taken_ms, now, side="right")) for s, r in self.data.items()}
        come = {s: Series(r.taken_ms[: until[s]], r.milli_c[: until[s]]) for s, r in self.data.items()}
        found = assess(self.case, come, now, standing=Standing((), now - END_MS), act=act)
        gates = {g.operation: g for g in found.gates}
        self.case = replace(self.case, pour=found.pour, gates=gates, holds=found.holds, state=found.state)

    def press(self, hours: float, who: str, kind: str, **fields: Any) -> None:
        """Hand in an act."""
        at = instant(END_MS + round(hours * HOUR_MS))
        act = act_from({"kind": kind, "at": at, "who": who, "pour": POUR, **fields})
        if not isinstance(act, PourAct):
            raise TypeError(kind)
        self.round(hours, act)

    def release(self, operation: Operation, who: str, may_be: NDArray[np.bool_]) -> None:
        """Sign an operation in the first round that finds it met, rounds half an hour apart; leave it when none does.

        Args:
            operation: strip or load.
            who: who signs it.
            may_be: at which steps since the end of the pour a round is run, shape (steps,).
        """
        for step in range(0, len(may_be), ROUND_STEPS):
            if self.case.holds:
                return  # until a person lifts them, whom there is none of here
            if not may_be[step]:
                continue
            at = step * STEP_H
            self.round(at)
            if self.case.gates[operation].state is GateState.MET:
                self.press(at, who, "sign", operations=[operation])
                self.released_h[operation] = at
                return


def may_be_met(operation: Operation, bound_mpa: Array, credited_c: Array) -> NDArray[np.bool_]:
    """Return at which steps `common-practice` may be met, so that no other rounds are run; shape (steps,).

    Half an hour earlier and a third of a degree colder than the coldest sensor has it: rounds decide, not this.

    Args:
        operation: strip or load.
        bound_mpa: by the coldest sensor alone, shape (steps,).
        credited_c: what that sensor says, as it is credited, shape (steps,).
    """
    hour, there = 4, bound_mpa >= REQUIRED_MPA[operation]
    if operation == STRIP:
        low = np.concatenate(([-np.inf], np.minimum(credited_c[1:], credited_c[:-1]))) + NEARLY_C
        there = there & (np.cumsum(low >= COUNTED_AT_C) * STEP_H >= COUNTED_H)
        last = np.lib.stride_tricks.sliding_window_view(np.pad(low, (hour, 0), mode="edge"), hour + 1)
        there = there & (last.min(axis=1) >= COUNTED_AT_C)
    soon = np.lib.stride_tricks.sliding_window_view(np.pad(there, (0, ROUND_STEPS)), ROUND_STEPS + 1)
    return np.asarray(soon.any(axis=1))


def judged(slabs: Slabs, i: int, case: PourCase, may_be: Mapping[Operation, NDArray[np.bool_]], seed: int) -> Judged:
    """Return a pour of the slabs from its end until strip and load were signed, or the record ends.

    Args:
        slabs: the slabs.
        i: which of them.
        case: its case, of `case_of`.
        may_be: of each operation, at which steps rounds are run.
        seed: for the noise of its sensors.
    """
    pour = Judged(case, readings(slabs, i, case.placements, np.random.default_rng([seed, i])))
    pour.release(STRIP, "qc", may_be[STRIP])
    if STRIP in pour.released_h:
        at = pour.released_h[STRIP]
        pour.press(at, "superintendent", "under_way", operation=STRIP)
        pour.press(at, "superintendent", "done", operation=STRIP)
        since = np.arange(len(slabs.hours)) * STEP_H >= at
        pour.release(LOAD, "engineer", may_be[LOAD] & since)
    return pour
