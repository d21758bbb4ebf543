"""Which bays to cover tonight, and which of them would freeze first. Pure; it advises, and decides nothing.

Without a fresh forecast the night ahead is taken to be as cold as the last one at the bay (persistence).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from cure.bay import FREEZE_SAFE_MPA
from shared.models.base import HOUR_MS, BayId, Ms, SensorId
from shared.models.decisions import Placement
from shared.models.readings import Series
from shared.models.setup import BaySettings, SiteFile, Zone
from shared.ports import BoardRow

COVER_BELOW_C: Final = 7.0
"""A night whose air is expected to be this cold, or unknown, wants covers on young concrete (our judgement)."""
LONGEST_HOLE_MS: Final = 2 * HOUR_MS
"""A warm night is known to have been warm only without longer holes in its record (our judgement)."""


@dataclass(frozen=True, slots=True)
class Night:
    """The last night."""

    from_ms: Ms
    to_ms: Ms


def wants(rows: Sequence[BoardRow]) -> list[BoardRow]:
    """Return the open pours that freezing can still hurt and that nobody has covered; not known is young."""
    found = []
    for row in rows:
        bound = None if row.state.estimate is None else row.state.estimate.lower_bound_mpa
        grown = bound is not None and bound >= FREEZE_SAFE_MPA
        if not grown and row.state.memory.get("covered") is not True:
            found.append(row)
    return found


def air_sensors(placements: Sequence[Placement], bay: BayId) -> tuple[SensorId, ...]:
    """Return the sensors in the air above a bay."""
    return tuple(p.sensor for p in placements if p.bay == bay and p.zone is Zone.AIR and p.to_ms is None)


def _settings(site: SiteFile, bay: BayId) -> BaySettings | None:
    return next((b for b in site.bay if b.bay_id == bay), None)


def expected_low_c(air: Sequence[Series], night: Night) -> float | None:
    """Return the coldest air of the last night; None: not known.

    Args:
        air: what each air sensor of the bay said from the night's begin to its end.
        night: the last one.
    """
    coldest = min((int(s.milli_c.min()) for s in air if len(s)), default=None)
    # A hole can hide cold, never warmth: what was seen to be cold stays so.
    seen_cold = coldest is not None and coldest <= COVER_BELOW_C * 1000
    if coldest is None or not (seen_cold or any(_whole(s, night) for s in air)):
        return None
    return coldest / 1000.0


def _whole(series: Series, night: Night) -> bool:
    edges = np.concatenate(([night.from_ms], series.taken_ms, [night.to_ms]))
    return bool((np.diff(edges) <= LONGEST_HOLE_MS).all())


def _freezes_before(site: SiteFile, row: BoardRow) -> tuple[float, float, Ms]:
    """Return the order of freezing: the thinnest slab, then the coldest concrete now, then the youngest pour.

    What is not known comes first.
    """
    settings, estimate = _settings(site, row.pour.bay), row.state.estimate
    coldest_c = None if estimate is None else estimate.coldest_c
    return (
        0.0 if settings is None else float(settings.thickness_mm),
        float("-inf") if coldest_c is None else coldest_c,
        -(row.pour.start_ms if row.pour.end_ms is None else row.pour.end_ms),
    )


def _free_m2(site: SiteFile, rows: Sequence[BoardRow]) -> float | None:
    """Return what of the site's covers does not lie on an open pour; None: not known."""
    laid = [_settings(site, row.pour.bay) for row in rows if row.state.memory.get("covered") is True]
    areas = [None if bay is None else bay.area_m2 for bay in laid]
    if site.site.covers_m2 is None or None in areas:
        return None
    return max(0.0, site.site.covers_m2 - sum(area for area in areas if area is not None))


def cover_tonight(
    site: SiteFile, rows: Sequence[BoardRow], lows_c: Mapping[BayId, float | None], by_ms: Ms | None
) -> dict[str, Any] | None:
    """Return the facts of the list, the first to freeze first; None: no bay needs a cover.

    Args:
        site: the set-up in force.
        rows: open pours.
        lows_c: expected low at each bay; absent or None: not known, which is cold.
        by_ms: until when somebody is there to lay them; None: not known.
    """
    cold = []
    for row in sorted(wants(rows), key=lambda r: _freezes_before(site, r)):
        low_c = lows_c.get(row.pour.bay)
        if low_c is None or not low_c > COVER_BELOW_C:
            settings = _settings(site, row.pour.bay)
            area_m2 = None if settings is None else settings.area_m2
            said = {"area_m2": area_m2, "expected_low_c": low_c, "covered": False}
            cold.append({"bay": row.pour.bay, "pour": row.pour.id, **said})
    if not cold:
        return None
    areas = [c["area_m2"] for c in cold]
    return {
        "bays": cold,
        "stock_m2": _free_m2(site, rows),
        "need_m2": None if None in areas else sum(areas),
        "first": cold[0]["bay"],
        "by_ms": by_ms,
    }
