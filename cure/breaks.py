"""A laboratory programme read from CSV: cylinders with their maturity and strength. Pure; text in, values out.

How strictly: `cure.laboratory`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np

from cure.accumulate import DEFAULT_ENERGY_SD, TENTH_PERCENTILE
from cure.laboratory import (
    AGES,
    OLDEST_H,
    STRENGTHS,
    TEMPERATURES,
    Faults,
    Line,
    age_h,
    columns,
    fault,
    number,
    specimens,
    strength_mpa,
    table,
)
from cure.maturity import DEFAULT_ACTIVATION_ENERGY, Floats, arrhenius_rate, maturity, two_branch_rate

MATURITY: Final = "equivalent_age_h"
TIME: Final = "time_h"
LAB_C: Final = (0.0, 60.0)
LONGEST_STEP_H: Final = 2.0
"""Between two temperatures of an instrumented cylinder. ASTM C1074 asks for 0.5 h through two days, then 1 h (from
memory)."""


@dataclass(frozen=True, slots=True)
class Row:
    """A cylinder as the laboratory wrote it down."""

    specimen: str
    age_h: float
    """Hours, or hours of equivalent age: `Programme.by_maturity`."""
    mpa: float
    line: int


@dataclass(frozen=True, slots=True)
class Break:
    """A cylinder with its maturity."""

    specimen: str
    equivalent_age_h: float
    mpa: float
    age_h: float | None = None
    """Hours since it was made; None: the file gives its maturity only."""


@dataclass(frozen=True, slots=True)
class Programme:
    """Everything of one file."""

    rows: tuple[Row, ...]
    by_maturity: bool
    """Its ages are equivalent ages already."""


def read_breaks(text: str, file: str) -> Programme:
    """Read a programme: `specimen`, one column of age or maturity, one of strength.

    Raises:
        SetupError: every cell that is wrong, with line and column.
    """
    faults, found = Faults(file), list[Row]()
    names, rows = table(text, faults)
    age, strength = columns(names, file, (*AGES, MATURITY), tuple(STRENGTHS))
    for name, line, row in specimens(rows, faults):
        hours = mpa = math.nan
        with faults.gathered():
            hours = age_h(row, file, line, age)
        with faults.gathered():
            mpa = strength_mpa(row, file, line, strength)
        found.append(Row(name, hours, mpa, line))
    faults.refuse()
    return Programme(tuple(found), age == MATURITY)


def read_temperatures(text: str, file: str) -> tuple[Floats, Floats]:
    """Read the record of the instrumented cylinders: `time_h`, then a column each that ends in `_c` or `_f`.

    Returns:
        Hours since the cylinders were made, and their mean temperature [degC], both of shape (n,).

    Raises:
        SetupError: every cell that is wrong, with line and column.
    """
    faults = Faults(file)
    names, rows = table(text, faults)
    if TIME not in names:
        fault(file, 1, TIME, "no such column", "hours since the cylinders were made")
    cylinders = [name for name in names if name != TIME]
    unit = {name: name[-2:].lower() for name in cylinders}
    for name in cylinders:
        if unit[name] not in TEMPERATURES or unit[name] != unit[cylinders[0]]:
            fault(file, 1, name or "column", "another unit, or none", "names that all end in _c, or all in _f")
    if not cylinders:
        fault(file, 1, "temperature", "no such column", "one or more whose names end in _c or _f")
    to_c = TEMPERATURES[unit[cylinders[0]]]
    low, high = (-20.0, 100.0) if unit[cylinders[0]] == "_c" else (-4.0, 212.0)
    hours = [_cell(faults, row[TIME], line, TIME, 0.0, OLDEST_H) for line, row in rows]
    each = [[to_c(_cell(faults, row[c], line, c, low, high)) for c in cylinders] for line, row in rows]
    # What is no hour, or stands beside a line that is left out, says nothing of how far apart the hours are.
    if not faults.found:
        _steps(faults, rows, hours)
    faults.refuse()
    return np.array(hours), np.array(each).mean(axis=1)


def _steps(faults: Faults, rows: Sequence[Line], hours: Sequence[float]) -> None:
    for (line, _), before, now in zip(rows[1:], hours, hours[1:], strict=False):
        if not 0.0 < now - before <= LONGEST_STEP_H:
            with faults.gathered():
                later = f"later, by {LONGEST_STEP_H:g} h at most"
                fault(faults.file, line, TIME, f"{now:g} after {before:g}", later)


def _cell(faults: Faults, cell: str, line: int, column: str, low: float, high: float) -> float:
    """Return the number of a cell; NaN, and a fault, for one that is none or outside its limits."""
    with faults.gathered():
        return number(cell, faults.file, line, column, low, high)
    return math.nan


def laboratory_rate(temperature_c: Floats, own_j_per_mol: float | None = None) -> Floats:
    """Return hours of equivalent age per hour for cylinders: the highest of the laws whose lowest one releases.

    Who credits a laboratory with less maturity than it had makes a curve that is too strong: of a mix whose energy is
    not tested nine in ten are below the highest energy here, which counts in a room warmer than 20 degC.

    Args:
        temperature_c: of the cylinders, shape (n,). [degC]
        own_j_per_mol: the mix's own activation energy, if it is tested. [J/mol]
    """
    rate = np.maximum(arrhenius_rate(temperature_c), two_branch_rate(temperature_c))
    highest = DEFAULT_ACTIVATION_ENERGY + TENTH_PERCENTILE * DEFAULT_ENERGY_SD
    return np.maximum(rate, arrhenius_rate(temperature_c, highest if own_j_per_mol is None else own_j_per_mol))


def matured(
    programme: Programme,
    file: str,
    record: tuple[Floats, Floats] | None,
    lab_c: float | None,
    own_j_per_mol: float | None = None,
) -> list[Break]:
    """Return the cylinders with their maturity: as written, by their record, or at a laboratory's own temperature.

    Args:
        programme: the cylinders.
        file: where they are from.
        record: hours and temperatures of the instrumented cylinders. [h, degC]
        lab_c: temperature of a laboratory without such a record. [degC]
        own_j_per_mol: the mix's own activation energy, if it is tested. [J/mol]

    Raises:
        SetupError: hours with neither record nor temperature, or cylinders beyond the record.
    """
    rows = programme.rows
    if programme.by_maturity:
        return [Break(r.specimen, r.age_h, r.mpa) for r in rows]
    if record is None:
        if lab_c is None or not LAB_C[0] <= lab_c <= LAB_C[1]:
            fault(file, None, "age", "hours", "with --temperatures of the instrumented cylinders, or --lab-c")
        rate = float(laboratory_rate(np.array([lab_c]), own_j_per_mol)[0])
        return [Break(r.specimen, r.age_h * rate, r.mpa, r.age_h) for r in rows]
    hours, celsius = record
    if hours[0] > 0.0:
        hours, celsius = np.insert(hours, 0, 0.0), np.insert(celsius, 0, celsius[0])
    ripened = maturity(hours, celsius, partial(laboratory_rate, own_j_per_mol=own_j_per_mol))
    faults = Faults(file)
    for r in rows:
        if not r.age_h <= hours[-1]:
            with faults.gathered():
                fault(file, r.line, "age", f"{r.age_h:g} h", f"within the record of temperatures, {hours[-1]:g} h")
    faults.refuse()
    return [Break(r.specimen, float(np.interp(r.age_h, hours, ripened)), r.mpa, r.age_h) for r in rows]
