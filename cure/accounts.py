"""What became of each sensor's readings: credited, kept without credit and why, refused and why. Pure.

Three different things: what is credited earns strength; what is kept without credit earns nothing and is still watched
for cold; what is refused counts as if nothing had been said.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.credit import SensorTrack
from cure.seen import Doubt, Times
from shared.models.base import Ms
from shared.models.estimate import KeptReadings, SensorAccount

BEFORE: Final = "before the end of the pour"
NOT_YET: Final = "its hour is not checked yet"


def accounts(sensors: Sequence[SensorTrack], doubts: Sequence[Doubt], start_ms: Ms | None) -> tuple[SensorAccount, ...]:
    """Return the account of each concrete sensor since the first concrete.

    Args:
        sensors: with their credit.
        doubts: about them.
        start_ms: when the clock of the pour started; None: it has not.
    """
    return tuple(_account(s, [d for d in doubts if d.sensor == s.placement.sensor], start_ms) for s in sensors)


def _account(s: SensorTrack, doubts: Sequence[Doubt], start_ms: Ms | None) -> SensorAccount:
    times = s.raw.taken_ms
    before = len(times) if start_ms is None else int(np.searchsorted(times, max(start_ms, s.placement.from_ms)))
    after = times[before:]
    believed = np.ones(len(after), dtype=bool)
    kept = [_kept(BEFORE, times[:before])]
    for doubt in doubts:
        if not doubt.hidden:
            left = doubt.believed(after)
            kept.append(_kept(str(doubt.cause), after[~left], open_ended=len(after) > 0 and not left[-1]))
            believed &= left
    credited = believed & _among(after, times[:0] if s.track is None else s.track.taken_ms)
    kept.append(_kept(NOT_YET, after[believed & ~credited]))
    refused = {str(d.cause): len(s.hidden_ms) for d in doubts if d.hidden}
    return SensorAccount(s.placement.sensor, int(credited.sum()), tuple(_some(kept)), refused)


def _among(times: Times, ascending: Times) -> NDArray[np.bool_]:
    """Return which times are there: of months of readings by looking each up, not by sorting all of them anew."""
    if not len(ascending):
        return np.zeros(len(times), dtype=bool)
    at = np.minimum(np.searchsorted(ascending, times), len(ascending) - 1)
    return np.asarray(ascending[at] == times)


def _kept(reason: str, times: Times, *, open_ended: bool = False) -> KeptReadings:
    if not len(times):
        return KeptReadings(reason, 0, 0, None)
    return KeptReadings(reason, len(times), int(times[0]), None if open_ended else int(times[-1]))


def _some(kept: Sequence[KeptReadings]) -> Iterator[KeptReadings]:
    return (k for k in kept if k.readings)
