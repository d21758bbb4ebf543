"""What changes if a calibration is put in force: which unfinished pours it would judge, and what moves. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from cure.bound import k_age_h
from cure.verification import lowered, verified
from shared.models.base import THE_SITE, BayId, PourId
from shared.models.calibration import Calibration
from shared.models.setup import MixSettings
from shared.ports import BoardRow, MixRow


@dataclass(frozen=True, slots=True)
class Reach:
    """When a lower bound can first reach a strength, as hours of equivalent age; infinite: not within what is tested.

    The bound may reach it later, by its statistical part.
    """

    mpa: float
    before_h: float | None
    """By what is in force, with what verification takes off; None: nothing is."""
    after_h: float


@dataclass(frozen=True, slots=True)
class Changed:
    """One unfinished pour of the mix."""

    bay: BayId
    pour: PourId
    keeps: int | None
    """The version that it keeps, so that nothing of it moves; None: the new one judges it."""


def reach_h(mpa: float, calibration: Calibration, mix: MixSettings) -> float:
    """Return the least equivalent age at which a lower bound can be a strength. [h]"""
    at = max(k_age_h(mpa, calibration, supplementary=mix.supplementary), calibration.tested_from_h)
    return at if at <= calibration.tested_to_h else math.inf


def reaches(
    thresholds_mpa: Sequence[float], now: MixRow | None, new: Calibration, mix: MixSettings
) -> tuple[Reach, ...]:
    """Return when each strength is reached before and after.

    Args:
        thresholds_mpa: what requirements ask for.
        now: what is in force.
        new: what would be.
        mix: of both.
    """
    old = None
    if now is not None:
        old = lowered(now.calibration, verified(now.calibration, now.tests, THE_SITE).ratio)
    return tuple(
        Reach(mpa, None if old is None else reach_h(mpa, old, mix), reach_h(mpa, new, mix)) for mpa in thresholds_mpa
    )


def changed(rows: Sequence[BoardRow], mix: str) -> tuple[Changed, ...]:
    """Return the unfinished pours of a mix, by bay: those that the new version would judge first."""
    found = [Changed(row.pour.bay, row.pour.id, row.pour.calibration_version) for row in rows if row.pour.mix == mix]
    return tuple(sorted(found, key=lambda c: (c.keeps is not None, c.bay)))
