"""Is a decoded temperature believable enough to be stored? Pure.

Screening never hides cold: from -2 to +2 degC every reading of a known sensor with a believable time is kept. 0 is
no sentinel. A refused reading is a missing reading, and a missing reading earns nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Final

from ingest.payloads.decoded import Record
from shared.models.base import DAY_MS, MINUTE_MS, MilliC, Ms
from shared.models.decisions import Placement
from shared.models.readings import Reason
from shared.models.setup import Zone

CONCRETE_MILLI_C: Final = (-20_000, 80_000)
"""70 degC is the peak that EN 13670, 8.5 allows (from memory, not held in hand): what is hotter must be told, so it is
kept; 85 degC is what a sensor says before it has measured. The Fahrenheit number of a warm slab is found out by its
first hour (`cure.doubts`). -20 degC: colder concrete earns nothing either way."""
AIR_MILLI_C: Final = (-50_000, 60_000)
"""Weather of any site, with a logger in the sun."""
ALWAYS_KEPT_MILLI_C: Final = (-2_000, 2_000)
AHEAD_MS: Final = 2 * MINUTE_MS
OLDEST_MS: Final = 14 * DAY_MS
"""A logger's own buffer is smaller; an older time is a clock that lost its date."""
LAST_MS: Final = 253_402_300_799_999
"""The end of the year 9999: computed."""
_AIR: Final = frozenset({Zone.AIR, Zone.AIR_BELOW})


def _placed(record: Record, placements: Sequence[Placement]) -> Sequence[Placement]:
    at_the_time = [
        p for p in placements if p.from_ms <= record.taken_ms and not (p.to_ms or record.taken_ms) < record.taken_ms
    ]
    return at_the_time or placements


def _within(milli_c: MilliC, limits: tuple[MilliC, MilliC]) -> bool:
    return limits[0] <= milli_c <= limits[1]


def _hour(taken_ms: Ms) -> str:
    """Return an hour as people read it; one of no calendar, as a broken clock says it, as the number that came."""
    if not 0 <= taken_ms <= LAST_MS:
        return f"{taken_ms} ms"
    return f"{datetime.fromtimestamp(taken_ms // 1000, UTC):%Y-%m-%d %H:%M:%S} UTC"


def ahead(record: Record) -> tuple[Reason, str]:
    """Return why a record is refused whose hour lay ahead of the site's clock when it first came."""
    return Reason.CLOCK_FUTURE, f"{record.sensor}: taken at {_hour(record.taken_ms)}, ahead of the site's clock"


def screen(record: Record, placements: Sequence[Placement], received_ms: Ms) -> tuple[Reason, str] | None:
    """Return why the record is refused, or None. The words do not depend on the hour: a resent refusal is the same one.

    Args:
        record: as decoded.
        placements: of this sensor, ended ones too.
        received_ms: when it first reached us: a time in the future does not ripen by waiting.
    """
    if not placements:
        return Reason.UNKNOWN_SENSOR, f"{record.sensor} is placed in no bay of the site file"
    if not record.taken_ms <= received_ms + AHEAD_MS:
        return ahead(record)
    if not record.taken_ms >= received_ms - OLDEST_MS:
        return Reason.CLOCK_PAST, f"{record.sensor}: taken at {_hour(record.taken_ms)}, more than 14 days ago"
    if _within(record.milli_c, ALWAYS_KEPT_MILLI_C):
        return None
    limits = [AIR_MILLI_C if p.zone in _AIR else CONCRETE_MILLI_C for p in _placed(record, placements)]
    if not any(_within(record.milli_c, pair) for pair in limits):
        low, high = limits[0]
        return Reason.RANGE, f"{record.milli_c / 1000:.3f} degC is outside {low / 1000:.0f}..{high / 1000:.0f} degC"
    return None
