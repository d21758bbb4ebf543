"""Datum temperature and activation energy of a mix from mortar cubes cured at three temperatures or more. Pure.

The annex procedure of the standard practice for maturity (ASTM C1074, annex A1, from memory: check against the
document). The limits without a source are our judgement; each reason says what to test.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

import numpy as np

from cure.accumulate import DEFAULT_ENERGY_SD, Law
from cure.breaks import Break
from cure.calibration import FEWEST_AGES, FEWEST_CYLINDERS, UNLIKELY, WIDEST, AgeGroup, Verdict, age_groups
from cure.fit import Fit, fit, lack_of_fit
from cure.laboratory import (
    AGES,
    STRENGTHS,
    TEMPERATURES,
    Faults,
    age_h,
    columns,
    number,
    specimens,
    strength_mpa,
    table,
)
from cure.maturity import DEFAULT_ACTIVATION_ENERGY
from cure.rate_line import RateLine, energies_between, rate_line
from shared.units import c_to_f

CURING: Final = "curing"
"""What begins the name of the column of curing temperatures; its unit ends it."""
CURED_C: Final = (1.0, 60.0)
CURVE: Final = "hyperbola"
K: Final = 1
"""Where the hyperbola has its k."""
AGES_WANTED, CUBES_WANTED = 6, 3
"""At each temperature, and of each age (ASTM C1074, annex A1, from memory)."""
TEMPERATURES_WANTED: Final = 3
SPAN_WANTED_C: Final = 20.0
MIDDLE: Final = (0.25, 0.75)
"""Of the span: one temperature lies there, or a bend of the line would not be seen."""
K_UNKNOWN: Final = 0.25
"""Standard deviation of ln k beyond which the ages do not tell k."""
K_KNOWN: Final = 0.02
"""No hyperbola through cubes tells ln k better than this."""
ENERGY_J_PER_MOL: Final = (20_000.0, 80_000.0)
"""What a calibration takes; no binder is outside."""


@dataclass(frozen=True, slots=True)
class CuringTemperature:
    """The cubes cured at one temperature, with their curve."""

    celsius: float
    cubes: tuple[Break, ...]
    """Their equivalent age is their age: at this temperature."""
    ages: tuple[AgeGroup, ...]
    fitted: Fit | None
    why_not: str
    """Why there is no curve."""
    lack: float | None
    """Probability of so poor a fit by the cubes' own scatter."""

    @property
    def k_per_h(self) -> float:
        """The rate constant; NaN: none. [1/h]"""
        return math.nan if self.fitted is None else list(self.fitted.parameters.model_dump().values())[K]

    @property
    def ln_k_sd(self) -> float:
        """Standard deviation of ln k, from the covariance of the fit."""
        if self.fitted is None:
            return math.nan
        return max(K_KNOWN, math.sqrt(float(self.fitted.covariance[K, K])) / self.k_per_h)


@dataclass
class JudgedCubes:
    """What became of the cubes."""

    at: tuple[CuringTemperature, ...]
    """Coldest first."""
    line: RateLine | None = None
    refused: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)
    """Why their energy is for planning only."""
    outliers: list[str] = field(default_factory=list)

    @property
    def verdict(self) -> Verdict:
        """The verdict; the reasons are `refused` and `doubts`."""
        return Verdict.REFUSED if self.refused else Verdict.PLANNING if self.doubts else Verdict.RELEASE

    @property
    def number(self) -> int:
        """How many cubes."""
        return sum(len(at.cubes) for at in self.at)

    @property
    def tested_c(self) -> tuple[float, float]:
        """Coldest and hottest temperature tested: the energy counts between them only. [degC]"""
        return self.at[0].celsius, self.at[-1].celsius

    def law(self) -> Law | None:
        """Return the mix's own law; None: not fit for release, the default holds."""
        if self.line is None or self.verdict is not Verdict.RELEASE:
            return None
        return Law(self.line.energy_j_per_mol, self.line.sd_j_per_mol, self.tested_c)

    def against_the_default(self) -> list[str]:
        """Return why not even the default law may release: cubes that will not do point to a higher energy yet."""
        most = DEFAULT_ACTIVATION_ENERGY + DEFAULT_ENERGY_SD
        if self.line is None or self.law() is not None or self.line.energy_j_per_mol <= most:
            return []
        found = f"{self.line.energy_j_per_mol / 1000.0:.1f} kJ/mol"
        covered = f"the default law covers {most / 1000.0:.1f}, and colder concrete may be weaker than it says"
        return [f"the cubes are {self.verdict}, yet point to {found}: {covered}"]


def read_cubes(text: str, file: str) -> list[tuple[float, Break]]:
    """Read cubes: `specimen`, `curing_c` or `curing_f`, one column of age, one of strength.

    Returns:
        The curing temperature of each [degC], and the cube.

    Raises:
        SetupError: every cell that is wrong, with line and column.
    """
    faults = Faults(file)
    names, rows = table(text, faults)
    curing, age, strength = columns(
        names, file, [CURING + unit for unit in TEMPERATURES], tuple(AGES), tuple(STRENGTHS)
    )
    unit = curing.removeprefix(CURING)
    low, high = CURED_C if unit == "_c" else map(c_to_f, CURED_C)
    found = []
    for name, line, row in specimens(rows, faults):
        celsius = hours = mpa = math.nan
        with faults.gathered():
            # Thousandths: 73.4 degF are 23 degC, and not another temperature than the next line's.
            celsius = round(TEMPERATURES[unit](number(row[curing], file, line, curing, low, high)), 3)
        with faults.gathered():
            hours = age_h(row, file, line, age)
        with faults.gathered():
            mpa = strength_mpa(row, file, line, strength)
        found.append((celsius, Break(name, hours, mpa)))
    faults.refuse()
    return found


def judge_cubes(cubes: Sequence[tuple[float, Break]]) -> JudgedCubes:
    """Judge cubes: the curing temperature of each [degC], and the cube."""
    by_c: dict[float, list[Break]] = {}
    for celsius, cube in cubes:
        by_c.setdefault(celsius, []).append(cube)
    judged = JudgedCubes(tuple(_cured(c, by_c[c]) for c in sorted(by_c)))
    if len(judged.at) < TEMPERATURES_WANTED:
        judged.refused.append(
            f"{len(judged.at)} curing temperatures tell no line from a bend: cure {AGES_WANTED} ages of {CUBES_WANTED} "
            "cubes each at the coldest and the hottest that the concrete will have, and midway"
        )
    for at in judged.at:
        _follow(judged, at)
    if all(at.fitted is not None for at in judged.at) and len(judged.at) > 1:
        _line(judged)
    return judged


def _cured(celsius: float, cubes: Sequence[Break]) -> CuringTemperature:
    ordered = tuple(sorted(cubes, key=lambda b: (b.equivalent_age_h, b.specimen)))
    ages, fitted, lack, why_not = age_groups(ordered), None, None, ""
    if len(ordered) < FEWEST_CYLINDERS or len(ages) < FEWEST_AGES:
        why_not = f"{len(ordered)} cubes at {len(ages)} ages are too few for a curve"
    elif any(not b.mpa > 0.0 or not b.equivalent_age_h > 0.0 for b in ordered):
        why_not = "a cube without age or strength says nothing of a curve"
    else:
        try:
            fitted = fit(CURVE, ordered)
            lack = lack_of_fit(fitted, ordered)
        except ValueError as error:
            why_not = str(error)
    return CuringTemperature(celsius, ordered, ages, fitted, why_not, lack)


def _follow(judged: JudgedCubes, at: CuringTemperature) -> None:
    where = f"at {at.celsius:g} degC"
    again = f"cure {AGES_WANTED} ages of {CUBES_WANTED} cubes there again, the first at twice the time of final setting"
    if at.fitted is None:
        judged.refused.append(f"{where} {at.why_not}: {again}, each later one at double the age")
        return
    if not at.fitted.scatter <= WIDEST:
        judged.refused.append(f"{where} the cubes scatter {at.fitted.scatter:.1f} times as much as cubes do: {again}")
    fewest = min(len(group.breaks) for group in at.ages)
    if len(at.ages) < AGES_WANTED or fewest < CUBES_WANTED:
        judged.doubts.append(
            f"{where} {len(at.ages)} ages, of the poorest {fewest} cubes: add what is missing to {AGES_WANTED} ages of "
            f"{CUBES_WANTED} cubes"
        )
    if at.lack is not None and not at.lack >= UNLIKELY:
        judged.doubts.append(f"{where} the hyperbola does not follow the ages: {again}")
    if not at.ln_k_sd <= K_UNKNOWN:
        judged.doubts.append(
            f"{where} k is known to {100.0 * at.ln_k_sd:.0f} % only: add {CUBES_WANTED} cubes at double the oldest "
            "age, and at half the youngest if they have set by then"
        )
    for i, off in at.fitted.strangers():
        cube = at.cubes[i]
        judged.outliers.append(cube.specimen)
        judged.doubts.append(
            f"{cube.specimen} {where}, {cube.equivalent_age_h:g} h, lies {off:+.1f} sd from the others: break "
            f"{CUBES_WANTED} more cubes of that age"
        )


def _line(judged: JudgedCubes) -> None:
    celsius, k = np.array([at.celsius for at in judged.at]), np.array([at.k_per_h for at in judged.at])
    sd = np.array([at.ln_k_sd for at in judged.at])
    freedom = min(at.fitted.degrees_of_freedom for at in judged.at if at.fitted is not None)
    judged.line = rate_line(celsius, k, sd, freedom)
    for colder, warmer in pairwise(judged.at):
        if not warmer.k_per_h > colder.k_per_h:
            judged.refused.append(
                f"k does not rise from {colder.celsius:g} to {warmer.celsius:g} degC ({24.0 * colder.k_per_h:.3f}, "
                f"then {24.0 * warmer.k_per_h:.3f} a day): look for cubes or baths that were exchanged, and cure both "
                "again"
            )
    _spread(judged)
    _energy(judged, judged.line)
    if not judged.line.bent >= UNLIKELY:
        between = ", ".join(f"{e / 1000.0:.1f}" for e in energies_between(celsius, k))
        judged.doubts.append(
            f"ln k over 1/T is bent (from each temperature to the next {between} kJ/mol, by chance "
            f"{judged.line.bent:.1g}): cure cubes at a temperature between the two that differ"
        )


def _spread(judged: JudgedCubes) -> None:
    coldest, hottest = judged.tested_c
    span = hottest - coldest
    if not span >= SPAN_WANTED_C:
        judged.doubts.append(
            f"the temperatures span {span:g} degC only: cure cubes at others, at least {SPAN_WANTED_C:g} degC apart"
        )
    low, high = (coldest + share * span for share in MIDDLE)
    if not any(low <= at.celsius <= high for at in judged.at):
        judged.doubts.append(f"no temperature lies midway: cure cubes at about {(coldest + hottest) / 2.0:.0f} degC")


def _energy(judged: JudgedCubes, line: RateLine) -> None:
    low, high = ENERGY_J_PER_MOL
    if not low <= line.energy_j_per_mol <= high:
        judged.refused.append(
            f"{line.energy_j_per_mol / 1000.0:.1f} kJ/mol is no binder's ({low / 1000.0:g} to {high / 1000.0:g}): look "
            "for cubes or baths that were exchanged, and cure all again"
        )
    if not line.sd_j_per_mol <= DEFAULT_ENERGY_SD:
        judged.doubts.append(
            f"the energy is known to {line.sd_j_per_mol / 1000.0:.1f} kJ/mol only, no better than the default's "
            f"{DEFAULT_ENERGY_SD / 1000.0:g}: cure cubes at a temperature more, or farther apart"
        )
