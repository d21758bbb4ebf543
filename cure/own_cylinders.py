"""What open pours' own cylinders, and the scatter of the sets, say of batches: lines for people. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from cure.accumulate import TENTH_PERCENTILE
from cure.batch import Batch
from cure.bound import batch_sd_ratio
from cure.counted import WHY_NOT, counted
from cure.tolerance import Tenth, tenth_of
from shared import units
from shared.models.base import PourId
from shared.models.calibration import Calibration, OwnCylinders
from shared.ports import MixRow

NO_RULE: Final = "they count by the sets of the mix only: the calibration has no own_cylinders"


def with_rules(
    calibration: Calibration, own_cylinders: OwnCylinders | None, batch_sd_percent: float | None
) -> Calibration:
    """Return a calibration with what is said of batches, and its new digest.

    Raises:
        ValidationError: a spread outside its range.
    """
    said = calibration.model_dump(exclude={"digest"})
    whole = Calibration.model_validate({**said, "own_cylinders": own_cylinders, "batch_sd_percent": batch_sd_percent})
    return whole.model_copy(update={"digest": whole.digested()})


def rule_said(calibration: Calibration) -> str:
    """Return in a sentence how batches count."""
    spread, rule = (
        f"The bound has a spread of {_percent(batch_sd_ratio(calibration))} for a batch.",
        calibration.own_cylinders,
    )
    if rule is None:
        return f"{spread} A pour's own cylinders count by the sets of its mix only."
    if rule.narrow_to_percent is None:
        return f"{spread} A pour's own cylinders may lower its curve at once; they raise nothing."
    return (
        f"{spread} A pour's own cylinders may lower its curve at once; {rule.narrow_from} or more of them, in two sets "
        f"or more, may narrow the spread of its batch to {_percent(rule.narrow_to_percent / 100.0)} at least."
    )


def batches_of(row: MixRow) -> dict[PourId, Batch]:
    """Return what the cylinders of each open pour say of its batch; pours without any are left out."""
    still_open = [p.pour.id for p in row.pours if p.pour.closed_ms is None]
    found = {pour: counted(row.calibration, row.mix, row.tests, pour) for pour in still_open}
    return {pour: batch for pour, batch in found.items() if batch.cylinders > 0}


def assumed(calibration: Calibration) -> float:
    """Return what nine in ten batches are above by the spread that the bound has for them. [of the curve]"""
    return 1.0 - TENTH_PERCENTILE * batch_sd_ratio(calibration)


def wider_than_assumed(calibration: Calibration, ratios: Sequence[float]) -> tuple[Tenth, bool] | None:
    """Return what nine in ten sets are above, and whether that is lower than the bound allows for."""
    tenth = tenth_of(ratios)
    return None if tenth is None else (tenth, not tenth.lower >= assumed(calibration))


def _percent(ratio: float) -> str:
    return units.shown(100.0 * ratio, "%", limit=False)


def _counts(batch: Batch, *, rule: bool) -> str:
    if not rule:
        return NO_RULE
    down = "nothing is lowered" if batch.lowers_to >= 1.0 else f"its curve counts for {_percent(batch.lowers_to)}"
    if batch.narrows_to is not None:
        return f"{down}; its batch has a spread of {_percent(batch.narrows_to)}"
    return f"{down}; nothing is narrowed" + (f": {WHY_NOT[batch.why_not]}" if batch.why_not else "")


def own_lines(batches: Mapping[PourId, Batch], *, rule: bool) -> list[str]:
    """Return a line for each pour with cylinders of its own.

    Args:
        batches: what they say.
        rule: whether the calibration lets them count.
    """
    return [
        f"own cylinders of {pour}: {b.cylinders}, its batch is expected at {_percent(b.ratio)} of the curve, spread "
        f"{_percent(b.sd_ratio)}; {_counts(b, rule=rule)}"
        for pour, b in batches.items()
    ]


def tenth_line(calibration: Calibration, ratios: Sequence[float]) -> str | None:
    """Return what the scatter of the sets says of the spread that the bound has for a batch; None: too few sets."""
    found = wider_than_assumed(calibration, ratios)
    if found is None:
        return None
    tenth, wider = found
    # Of a report in English; the pages word it themselves.
    line = (
        f"nine in ten sets are above {_percent(tenth.lower)} (75 % confidence; mean {_percent(tenth.mean)}, spread "
        f"{_percent(tenth.sd)}, factor {tenth.factor:.2f} of {tenth.number}); the bound has "
        f"{_percent(assumed(calibration))}"
    )
    return line + (": WIDER than it allows for, give the next version a larger batch_sd_percent" if wider else "")
