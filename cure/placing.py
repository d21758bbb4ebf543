"""Does a sensor lie in the concrete of its pour? In air, in another slab, exchanged with the air channel: pure.

Limits are our judgement; an honest sensor in a thin slab near the air's temperature stays undoubted
(`tests/cure/test_doubts_slabs.py`). Without bay air all of it is silent.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.maturity import Floats
from cure.seen import FIRST_MS, FOREVER, WATCHED_MS, Cause, Doubt, Seen
from shared.models.base import HOUR_MS, MINUTE_MS, Ms
from shared.models.decisions import HoldKind
from shared.models.readings import Series

LAG_MS: Final = 30 * MINUTE_MS
"""What lies in concrete follows the air by at least so much."""
LAG_WINDOW_MS: Final = 8 * HOUR_MS
LAG_READINGS: Final = 12
AS_AIR_C: Final = 2.0
AS_AIR_SD_C: Final = 0.4
LAG_FITS_WORSE: Final = 2.5
NOISE_C: Final = 0.06
"""Air that moves less tells nothing of a lag."""
JUMP_C: Final = 3.0
AT_ONCE_C: Final = 2.5
"""Of it from one reading to the next: what a cover does takes longer."""
STAYS_MILLI_C: Final = 2000
NO_JUMP_MILLI_C: Final = 1500
AIR_STILL_C: Final = 1.0


def misplaced(s: Seen, concrete: Sequence[Seen], airs: Sequence[Seen], start_ms: Ms, end_ms: Ms) -> Iterator[Doubt]:
    """Doubt where a sensor lies; one doubt is enough to go and look."""
    s = s.until(end_ms + WATCHED_MS)
    for air in airs:
        air_c = s.air_c(air.series)
        off_c = s.series.milli_c / 1000.0 - air_c
        set_in_ms = _heat_set_in(s, air_c, off_c)
        if set_in_ms is not None and set_in_ms > end_ms:
            words = "was as warm as the air until after the pour"
            late = set_in_ms > end_ms + FIRST_MS
            yield s.doubt(Cause.LATE, words, (-1, set_in_ms - 1), hold=HoldKind.PLACEMENT if late else None)
            return
        if _follows_at_once(s, air.series, off_c, end_ms):
            yield s.doubt(Cause.IN_AIR, "follows the air as no concrete does", FOREVER, hold=HoldKind.PLACEMENT)
            return
        if _was_warm_before(s, concrete, off_c, start_ms, end_ms):
            words = "was in something warmer or colder than the air before the pour, and did not feel the placing"
            yield s.doubt(Cause.EARLY, words, hold=HoldKind.PLACEMENT)
            return
        if _felt_instead(s, air, start_ms, end_ms):
            words = f"did not feel the placing, but {air.placement.sensor} did, which is to lie in air"
            yield s.doubt(Cause.EXCHANGED, words, hold=HoldKind.PLACEMENT)
            return


def _heat_set_in(s: Seen, air_c: Floats, off_c: Floats) -> Ms | None:
    """Return when a sensor that had been as warm as the air left it at one jump and for an hour; else None."""
    far = np.abs(off_c) > AS_AIR_C
    if len(far) < 5:
        return None
    for_long = far[:-3] & far[1:-2] & far[2:-1] & far[3:]
    i = int(np.argmax(for_long))
    known = ~np.isnan(off_c[max(0, i - 4) : i])
    if not for_long[i] or len(known) < 3 or not known.all():
        return None
    steps_c = np.diff(s.series.milli_c[i - 1 : i + 2]) / 1000.0
    jumped = abs(steps_c.sum()) >= JUMP_C and np.abs(steps_c).max() >= AT_ONCE_C
    return int(s.series.taken_ms[i]) if jumped and abs(air_c[i + 1] - air_c[i - 1]) < AIR_STILL_C else None


def _follows_at_once(s: Seen, air: Series, off_c: Floats, end_ms: Ms) -> bool:
    """Return whether eight hours of it are the air's, and clearly not the air's of half an hour before or after."""
    use = ~np.isnan(off_c) & (s.series.taken_ms > end_ms)
    t = s.series.taken_ms[use]
    if len(t) < LAG_READINGS:
        return False
    first, last = np.searchsorted(t, t - LAG_WINDOW_MS), np.arange(1, len(t) + 1)
    whole = (t - t[first] >= LAG_WINDOW_MS - 2 * s.placement.interval_s * 1000) & (last - first >= LAG_READINGS)
    mean, sd = _spread(off_c[use], first, last)
    as_air = whole & (np.abs(mean) <= AS_AIR_C) & (sd <= AS_AIR_SD_C)
    worse = LAG_FITS_WORSE * np.maximum(sd, NOISE_C)
    for shift_ms in (LAG_MS, -LAG_MS):
        # Most concrete is never as warm as the air, and is done with here.
        if not np.any(as_air):
            return False
        shifted = s.series.milli_c / 1000.0 - s.air_c(air, shift_ms)
        as_air &= _spread(np.nan_to_num(shifted[use]), first, last)[1] >= worse
    return bool(np.any(as_air))


def _spread(values: Floats, first: NDArray[np.int64], last: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """Return mean and standard deviation of each stretch."""
    sums = np.concatenate(([0.0], np.cumsum(values)))
    squares = np.concatenate(([0.0], np.cumsum(values**2)))
    n = last - first
    mean = (sums[last] - sums[first]) / n
    return mean, np.sqrt(np.maximum(0.0, (squares[last] - squares[first]) / n - mean**2))


def _no_jump(s: Seen, start_ms: Ms, end_ms: Ms) -> bool:
    """Return whether a sensor was read all through the placing and felt nothing of it."""
    part = s.between(start_ms - LAG_MS, end_ms + FIRST_MS)
    covered = s.series.taken_ms[part]
    whole = len(covered) > 4 and covered[0] <= start_ms and s.series.taken_ms[-1] >= end_ms + FIRST_MS
    return bool(whole and np.abs(s.jumps_milli_c[part]).max() < NO_JUMP_MILLI_C)


def _was_warm_before(s: Seen, concrete: Sequence[Seen], off_c: Floats, start_ms: Ms, end_ms: Ms) -> bool:
    before = np.abs(off_c[s.between(start_ms - HOUR_MS, start_ms)])
    if not (len(before) > 2 and bool(np.all(before >= JUMP_C)) and _no_jump(s, start_ms, end_ms)):
        return False
    window = end_ms, end_ms + FIRST_MS
    own = s.series.milli_c[s.between(*window)]
    others = [o.series.milli_c[o.between(*window)] for o in concrete if o.placement is not s.placement]
    others = [c for c in others if len(c)]
    return bool(len(own) and others and all(abs(np.median(c) - np.median(own)) >= JUMP_C * 1000 for c in others))


def _felt_instead(s: Seen, air: Seen, start_ms: Ms, end_ms: Ms) -> bool:
    """Return whether the air channel of the sensor's own logger felt the placing in its place."""
    if s.placement.sensor.partition(".")[0] != air.placement.sensor.partition(".")[0]:
        return False
    if not _no_jump(s, start_ms, end_ms):
        return False
    part = air.between(start_ms, end_ms + FIRST_MS)
    for i in np.flatnonzero(np.abs(air.jumps_milli_c[part]) >= JUMP_C * 1000) + part.start:
        after = air.series.milli_c[i + 1 : i + 5] - air.series.milli_c[i - 1]
        if len(after) == 4 and (np.all(after >= STAYS_MILLI_C) or np.all(after <= -STAYS_MILLI_C)):
            return True
    return False
