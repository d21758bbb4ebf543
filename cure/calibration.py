"""Judging a laboratory programme: is its curve fit for release, for planning only, or for nothing, and why. Pure.

The limits without a source are our judgement. Nothing is left out silently: a cylinder that does not fit is named.
"""

from __future__ import annotations

import json
import math
from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Final

import numpy as np

from cure.accumulate import Law
from cure.bound import K_PLAIN, K_SUPPLEMENTARY
from cure.breaks import Break
from cure.fit import Fit, fit, lack_of_fit
from cure.plans import LOAD_MPA, STRIP_MPA
from shared.models.calibration import Calibration

THRESHOLDS_MPA: Final = (STRIP_MPA, LOAD_MPA)
"""What the shipped plans ask for."""
VALID_MONTHS: Final = 6
"""From the making of the cylinders (our judgement): a mix drifts with its cement and its sand."""
CURVE: Final = "exponential"
SECOND: Final = "hyperbola"
"""The second opinion: as good a form, which goes elsewhere where there are no cylinders."""
FEWEST_AGES: Final = 5
FEWEST_CYLINDERS: Final = 10
"""Five ages, two cylinders each. ASTM C1074 asks for 15 cylinders and more in all (from memory)."""
SPREAD: Final = 0.10
"""Of two cylinders of an age, of their mean: beyond it ASTM C1074 wants a third (from memory)."""
APART: Final = 0.10
"""Of two curves at a threshold."""
NEAR: Final = 2.0
"""A threshold wants cylinders between half of it and double: without, the curve's form decides there, not the mix."""
UNLIKELY: Final = 0.01
WIDEST: Final = 3.0
"""Scatter about the curve, in standard deviations of a cylinder."""
FALLING: Final = 0.10
SHARES: Final = (K_SUPPLEMENTARY, K_PLAIN)
"""A lower bound is at most so much of the estimate (`cure.bound`): cylinders must lie on both sides of what an estimate
has to be where a bound reaches a threshold."""


class Verdict(StrEnum):
    """What a programme is good for."""

    RELEASE = "fit for release"
    PLANNING = "fit for planning only"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class AgeGroup:
    """The cylinders of one maturity."""

    equivalent_age_h: float
    breaks: tuple[Break, ...]

    @property
    def mean_mpa(self) -> float:
        """Their mean strength."""
        return float(np.mean([b.mpa for b in self.breaks]))

    @property
    def spread(self) -> float:
        """Strongest less weakest, of their mean."""
        mpa = [b.mpa for b in self.breaks]
        return (max(mpa) - min(mpa)) / self.mean_mpa if self.mean_mpa > 0.0 else 0.0


@dataclass
class Judged:
    """What became of a programme."""

    breaks: tuple[Break, ...]
    ages: tuple[AgeGroup, ...]
    thresholds_mpa: tuple[float, ...]
    fitted: Fit | None = None
    second: Fit | None = None
    lack: float | None = None
    """Probability of so poor a fit by the cylinders' own scatter."""
    outliers: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)
    """Why it is not fit for release."""
    wanted: list[str] = field(default_factory=list)
    """Tests that would mend it, with their age."""

    @property
    def verdict(self) -> Verdict:
        """The verdict; the reasons are `refused` and `doubts`."""
        return Verdict.REFUSED if self.refused else Verdict.PLANNING if self.doubts else Verdict.RELEASE


def age_groups(breaks: Sequence[Break]) -> tuple[AgeGroup, ...]:
    """Return the cylinders by maturity, youngest first; within 1 % is one."""
    groups: list[list[Break]] = []
    for b in sorted(breaks, key=lambda b: (b.equivalent_age_h, b.specimen)):
        if groups and b.equivalent_age_h <= 1.01 * groups[-1][0].equivalent_age_h:
            groups[-1].append(b)
        else:
            groups.append([b])
    return tuple(AgeGroup(float(np.mean([b.equivalent_age_h for b in g])), tuple(g)) for g in groups)


def judge(breaks: Sequence[Break], thresholds_mpa: Sequence[float] = THRESHOLDS_MPA) -> Judged:
    """Judge a programme.

    Args:
        breaks: its cylinders with their maturity.
        thresholds_mpa: strengths that requirements ask for.
    """
    ordered = tuple(sorted(breaks, key=lambda b: (b.equivalent_age_h, b.specimen)))
    judged = Judged(ordered, age_groups(ordered), tuple(sorted(thresholds_mpa)))
    _count(judged)
    _rises(judged)
    if not judged.refused:
        try:
            judged.fitted = fit(CURVE, ordered)
        except ValueError as error:
            judged.refused.append(str(error))
    if judged.fitted is not None:
        _scatters(judged, judged.fitted)
        _brackets(judged, judged.fitted)
        _near(judged, judged.fitted)
        _replicates(judged)
        _second_opinion(judged, judged.fitted)
    return judged


def _count(judged: Judged) -> None:
    n, ages = len(judged.breaks), len(judged.ages)
    if any(not b.mpa > 0.0 or not b.equivalent_age_h > 0.0 for b in judged.breaks):
        judged.refused.append("a cylinder without age or strength says nothing of a curve")
    if n < FEWEST_CYLINDERS or ages < FEWEST_AGES:
        judged.refused.append(
            f"{n} cylinders at {ages} ages: at least {FEWEST_CYLINDERS} at {FEWEST_AGES} ages are needed"
        )
        judged.wanted.append("two cylinders each at 10, 14, 18, 24, 36 and 48 h at 20 degC, then at 3, 7 and 28 days")


def _rises(judged: Judged) -> None:
    strongest = 0.0
    for group in judged.ages:
        if not group.mean_mpa >= (1.0 - FALLING) * strongest:
            judged.refused.append(
                f"at {group.equivalent_age_h:.1f} h the cylinders are weaker than younger ones, by more than "
                f"{100 * FALLING:.0f} %: {_names(group)}"
            )
        strongest = max(strongest, group.mean_mpa)


def _names(group: AgeGroup) -> str:
    return ", ".join(b.specimen for b in group.breaks)


def _scatters(judged: Judged, fitted: Fit) -> None:
    judged.lack = lack_of_fit(fitted, judged.breaks)
    if not fitted.scatter <= WIDEST:
        judged.refused.append(f"the cylinders scatter {fitted.scatter:.1f} times as much as cylinders do")
    if judged.lack is not None and not judged.lack >= UNLIKELY:
        judged.doubts.append(f"the curve does not follow the ages: by chance only once in {1.0 / judged.lack:.0f}")
        judged.wanted.append("look at the temperature record and at the batches: the ages do not lie on one curve")
    for i, off in fitted.strangers():
        b = judged.breaks[i]
        judged.outliers.append(b.specimen)
        judged.doubts.append(f"{b.specimen} at {b.equivalent_age_h:.1f} h lies {off:+.1f} sd from the others")
        judged.wanted.append(f"another cylinder at {b.equivalent_age_h:.1f} h, beside {b.specimen}")


def _brackets(judged: Judged, fitted: Fit) -> None:
    lowest, highest = judged.thresholds_mpa[0] / SHARES[1], judged.thresholds_mpa[-1] / SHARES[0]
    first, last = judged.ages[0].mean_mpa, max(group.mean_mpa for group in judged.ages)
    if not first <= lowest:
        at_h = max(1.0, fitted.age_h(0.6 * lowest))
        judged.doubts.append(f"the first cylinders had {first:.1f} MPa already: none at or below {lowest:.1f} MPa")
        judged.wanted.append(f"two cylinders at about {at_h:.0f} h at 20 degC, and two half-way to the next age")
    if not last >= highest:
        judged.doubts.append(f"the last cylinders had only {last:.1f} MPa: none at or above {highest:.1f} MPa")
        judged.wanted.append("two cylinders at 7 days, two at 28 days")


def _near(judged: Judged, fitted: Fit) -> None:
    for threshold in judged.thresholds_mpa:
        if not fitted.age_h(threshold) < math.inf:
            judged.doubts.append(f"the curve never has {threshold:.1f} MPa")
        elif not any(threshold / NEAR <= group.mean_mpa <= threshold * NEAR for group in judged.ages):
            judged.doubts.append(f"no cylinders between {threshold / NEAR:.1f} and {threshold * NEAR:.1f} MPa")
            judged.wanted.append(f"two cylinders at about {fitted.age_h(threshold):.0f} h at 20 degC")


def _replicates(judged: Judged) -> None:
    for group in judged.ages:
        near = 0.5 * judged.thresholds_mpa[0] <= group.mean_mpa <= 2.0 * judged.thresholds_mpa[-1]
        at = f"at {group.equivalent_age_h:.1f} h"
        if len(group.breaks) == 1 and near:
            judged.doubts.append(f"one cylinder only {at}: {_names(group)}")
            judged.wanted.append(f"a second cylinder {at}")
        if len(group.breaks) == 2 and not group.spread <= SPREAD:
            judged.doubts.append(f"two cylinders {at} differ by {100 * group.spread:.0f} %: {_names(group)}")
            judged.wanted.append(f"a third cylinder {at}")


def _second_opinion(judged: Judged, fitted: Fit) -> None:
    try:
        judged.second = fit(SECOND, judged.breaks)
    except ValueError as error:
        judged.doubts.append(f"no second opinion: {error}")
        return
    for threshold in (mpa for mpa in judged.thresholds_mpa if fitted.age_h(mpa) < math.inf):
        at_h = fitted.age_h(threshold)
        other = judged.second.strength_mpa(at_h)
        if not abs(other / threshold - 1.0) <= APART:
            judged.doubts.append(f"where the curve has {threshold:.1f} MPa, a {SECOND} has {other:.1f} MPa")
            judged.wanted.append(f"two cylinders at about {at_h:.0f} h at 20 degC")


def months_after(day: date, months: int) -> date:
    """Return the same day so many months later; the last one of a month that is shorter."""
    year, month = divmod(12 * day.year + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def calibration_of(
    judged: Judged,
    mix: str,
    version: int,
    made_on: str,
    own: Law | None = None,
    valid_until: date | None = None,
    dose_class: str | None = None,
) -> Calibration:
    """Return the calibration of a programme that was not refused, with its digest.

    Args:
        judged: the programme.
        mix: its name in the site file.
        version: of the calibration.
        made_on: when the cylinders were made.
        own: the mix's own temperature law, if it is tested.
        valid_until: last day on which a pour may begin that is judged by it.
        dose_class: of its admixtures.

    Raises:
        ValueError: it was refused.
    """
    fitted = judged.fitted
    if fitted is None or judged.verdict is Verdict.REFUSED:
        raise ValueError("; ".join(judged.refused))
    whole = Calibration.model_validate(
        {
            "mix": mix,
            "version": version,
            "made_on": made_on,
            "fit_for": "release" if judged.verdict is Verdict.RELEASE else "planning",
            "curve": fitted.curve,
            "parameters": fitted.parameters.model_dump(),
            "covariance": [[float(v) for v in row] for row in (fitted.covariance + fitted.covariance.T) / 2.0],
            "degrees_of_freedom": fitted.degrees_of_freedom,
            "tested_from_h": judged.breaks[0].equivalent_age_h,
            "tested_to_h": judged.breaks[-1].equivalent_age_h,
            "valid_until": valid_until,
            "dose_class": dose_class,
            **_tested_energy(own),
        }
    )
    return whole.model_copy(update={"digest": whole.digested()})


def _tested_energy(own: Law | None) -> dict[str, float]:
    if own is None or own.tested_c is None:
        return {}
    return {
        "activation_energy_kj_per_mol": round(own.activation_energy_j_per_mol / 1000.0, 3),
        "activation_energy_sd_kj_per_mol": math.ceil(own.sd_j_per_mol) / 1000.0,
        "activation_energy_from_c": own.tested_c[0],
        "activation_energy_to_c": own.tested_c[1],
    }


def to_toml(calibration: Calibration, comments: Sequence[str]) -> str:
    """Return the file of a calibration."""
    said = calibration.model_dump(mode="json", exclude_none=True)
    lines = [f"# {line}".rstrip() for line in comments]
    for name, value in said.items():
        if isinstance(value, dict):
            inner = ", ".join(f"{k} = {v!r}" for k, v in value.items())
            lines.append(f"{name} = {{ {inner} }}")
        elif name == "covariance":
            lines += ["covariance = [", *(f"  [{', '.join(map(repr, row))}]," for row in value), "]"]
        else:
            lines.append(f"{name} = {json.dumps(value)}")
    return "\n".join(lines) + "\n"
