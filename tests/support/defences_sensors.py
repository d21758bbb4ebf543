"""How the defences against faulty sensors and clocks are switched off, row by row; for `defences.SWITCHES`."""

from __future__ import annotations

from typing import Final

import numpy as np
from switching import Switches, both, put, rewritten

import cure.accumulate
import cure.bay
import cure.bound
import cure.credit
import cure.doubts
import cure.placing
import cure.watch
import ingest.arrival
import ingest.intake
import ingest.screening
from cure.bay import BayEvidence
from cure.maturity import Floats
from ingest.intake import Intake
from shared.models.calibration import Calibration
from shared.models.setup import MixSettings

FOREVER_MS: Final = 10**15


def nothing(*_: object) -> tuple[()]:
    """Doubt nothing."""
    return ()


def no(*_: object) -> bool:
    """See nothing."""
    return False


def _strong_when_not_a_number(sums: Floats, calibration: Calibration, mix: MixSettings) -> Floats:
    found = _BOUND(sums, calibration, mix)
    return np.where(np.isnan(sums).any(axis=1) | np.isnan(found), 99.0, found)


_CREDIT: Final = cure.credit.credit
_BOUND: Final = cure.bound.lower_bound_mpa
SWITCHES: Final[Switches] = {
    "L2": put(cure.doubts, "_stuck", nothing),
    "L3": put(ingest.screening, "_within", lambda *_: True),
    "L4": put(cure.doubts, "_apart", nothing),
    "L5": both(put(cure.placing, "_follows_at_once", no), put(cure.doubts, "_restless", nothing)),
    "L6": put(cure.credit, "clock_start", lambda case: case.pour.start_ms),
    "L7": both(put(cure.placing, "_heat_set_in", lambda *_: None), put(cure.placing, "_was_warm_before", no)),
    "L8": both(*(put(module, "between", lambda series, *_: series) for module in (cure.bay, cure.credit))),
    "L10": put(cure.watch, "conflicts", nothing),
    "L12": put(cure.accumulate, "SHORT_GAP_INTERVALS", 1e9),
    "L13": put(cure.accumulate, "SHORT_GAP_INTERVALS", 1e9),
    "L15": put(cure.placing, "_felt_instead", no),
    "L16": both(put(cure.doubts, "_not_fresh", nothing), put(ingest.screening, "_within", lambda *_: True)),
    "R3": (
        put(ingest.intake, "apart_ms", lambda _: 0),
        lambda patch: rewritten(patch, ingest.intake._untimed, ("message.may_have_waited", "False")),
        lambda patch: rewritten(patch, ingest.arrival.arrived, ("min(before.milli_c, milli_c)", "before.milli_c")),
    ),
    "C1": (put(ingest.screening, "AHEAD_MS", FOREVER_MS), put(cure.doubts, "offbeat", nothing)),
    "C2": put(ingest.screening, "OLDEST_MS", FOREVER_MS * 10),
    "C3": put(Intake, "_recall", nothing),
    "E1": put(cure.accumulate, "SHORT_GAP_INTERVALS", 1e9),
    "E2": put(cure.bay, "HOUR_MS", 3600),
    "E3": put(cure.bay, "lower_bound_mpa", _strong_when_not_a_number),
    "E8": put(BayEvidence, "lower_bound_mpa", lambda self: max((b for b, _, _ in self._bounds), default=0.0)),
    "E11": put(cure.watch, "freezing", nothing),
    "E12": put(
        cure.bay, "credit", lambda *given: _CREDIT(given[0], given[1], given[2], given[3], FOREVER_MS, given[5])
    ),
    "O2": both(put(cure.placing, "_heat_set_in", lambda *_: None), put(cure.placing, "_follows_at_once", no)),
    "O4": both(put(cure.placing, "_heat_set_in", lambda *_: None), put(cure.placing, "_follows_at_once", no)),
    "O5": put(cure.doubts, "_not_fresh", nothing),
}
