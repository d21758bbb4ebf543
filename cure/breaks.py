"""A laboratory programme read from CSV: cylinders with their maturity and strength. Pure; text in, values out.

A column says its unit by its name. The first fault ends it, with line and column: what a laboratory wrote is not
guessed at.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from io import StringIO
from typing import Final, NoReturn

import numpy as np

from cure.maturity import Floats, arrhenius_rate, maturity, two_branch_rate
from shared.errors import Fault, SetupError
from shared.units import f_to_c, psi_to_mpa

SPECIMEN: Final = "specimen"
AGES: Final = {"age_h": 1.0, "age_d": 24.0}
"""Hours in a unit of age, by column."""
MATURITY: Final = "equivalent_age_h"
STRENGTHS: Final[Mapping[str, Callable[[float], float]]] = {
    "strength_mpa": float,
    "strength_psi": psi_to_mpa,
}
TIME: Final = "time_h"
TEMPERATURES: Final[Mapping[str, Callable[[float], float]]] = {"_c": float, "_f": f_to_c}
"""What ends the name of an instrumented cylinder's column."""
STRONGEST_MPA: Final = 200.0
OLDEST_H: Final = 10_000.0
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


@dataclass(frozen=True, slots=True)
class Programme:
    """Everything of one file."""

    rows: tuple[Row, ...]
    by_maturity: bool
    """Its ages are equivalent ages already."""


def _fault(file: str, line: int | None, field: str, found: str, allowed: str) -> NoReturn:
    raise SetupError([Fault(file, line, field, found, allowed)])


def _table(text: str, file: str) -> tuple[list[str], list[tuple[int, dict[str, str]]]]:
    """Return the columns of a CSV, and its rows with their lines."""
    reader = csv.reader(StringIO(text.removeprefix("\ufeff")))
    rows = [(reader.line_num, [cell.strip() for cell in row]) for row in reader if any(cell.strip() for cell in row)]
    if not rows:
        _fault(file, None, "file", "nothing", "a line of column names, then a line each")
    (at, names), *rest = rows
    for name in names:
        if names.count(name) > 1:
            _fault(file, at, name or "column", "twice", "each column once")
    for line, row in rest:
        if len(row) != len(names):
            _fault(file, line, "row", f"{len(row)} columns", f"{len(names)}, as the first line has")
    if not rest:
        _fault(file, None, "file", "only column names", "a line each")
    return names, [(line, dict(zip(names, row, strict=True))) for line, row in rest]


def _one_of(names: Sequence[str], wanted: Sequence[str], file: str) -> str:
    there = [name for name in names if name in wanted]
    if len(there) != 1:
        found = " and ".join(there) or "none of them"
        _fault(file, 1, " or ".join(wanted), found, "exactly one: a programme has one unit")
    return there[0]


def _number(cell: str, file: str, line: int, column: str, low: float, high: float) -> float:
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if not low <= value <= high:
        _fault(file, line, column, repr(cell), f"a number from {low:g} to {high:g}, without a unit")
    return value


def read_breaks(text: str, file: str) -> Programme:
    """Read a programme: `specimen`, one column of age or maturity, one of strength.

    Raises:
        SetupError: the first fault, with line and column.
    """
    names, rows = _table(text, file)
    if SPECIMEN not in names:
        _fault(file, 1, SPECIMEN, "no such column", "the name of each cylinder")
    age = _one_of(names, (*AGES, MATURITY), file)
    strength = _one_of(names, tuple(STRENGTHS), file)
    for name in names:
        if name not in {SPECIMEN, age, strength}:
            _fault(file, 1, name or "column", "an unknown column", f"{SPECIMEN}, {age}, {strength}")
    hours, to_mpa, seen = AGES.get(age, 1.0), STRENGTHS[strength], dict[str, int]()
    found = []
    for line, row in rows:
        specimen = row[SPECIMEN]
        if not specimen:
            _fault(file, line, SPECIMEN, "nothing", "the name of the cylinder")
        if specimen in seen:
            _fault(file, line, SPECIMEN, f"{specimen!r} again, as in line {seen[specimen]}", "each cylinder once")
        seen[specimen] = line
        age_h = _number(row[age], file, line, age, 0.0, OLDEST_H / hours) * hours
        highest = STRONGEST_MPA / to_mpa(1.0)
        found.append(Row(specimen, age_h, to_mpa(_number(row[strength], file, line, strength, 0.0, highest)), line))
    return Programme(tuple(found), age == MATURITY)


def read_temperatures(text: str, file: str) -> tuple[Floats, Floats]:
    """Read the record of the instrumented cylinders: `time_h`, then a column each that ends in `_c` or `_f`.

    Returns:
        Hours since the cylinders were made, and their mean temperature [degC], both of shape (n,).

    Raises:
        SetupError: the first fault, with line and column.
    """
    names, rows = _table(text, file)
    if TIME not in names:
        _fault(file, 1, TIME, "no such column", "hours since the cylinders were made")
    cylinders = [name for name in names if name != TIME]
    unit = {name: name[-2:].lower() for name in cylinders}
    for name in cylinders:
        if unit[name] not in TEMPERATURES or unit[name] != unit[cylinders[0]]:
            _fault(file, 1, name or "column", "another unit, or none", "names that all end in _c, or all in _f")
    if not cylinders:
        _fault(file, 1, "temperature", "no such column", "one or more whose names end in _c or _f")
    to_c = TEMPERATURES[unit[cylinders[0]]]
    low, high = (-20.0, 100.0) if unit[cylinders[0]] == "_c" else (-4.0, 212.0)
    hours = [_number(row[TIME], file, line, TIME, 0.0, OLDEST_H) for line, row in rows]
    for (line, _), before, now in zip(rows[1:], hours, hours[1:], strict=False):
        if not 0.0 < now - before <= LONGEST_STEP_H:
            _fault(file, line, TIME, f"{now:g} after {before:g}", f"later, by {LONGEST_STEP_H:g} h at most")
    each = [[to_c(_number(row[c], file, line, c, low, high)) for c in cylinders] for line, row in rows]
    return np.array(hours), np.array(each).mean(axis=1)


def laboratory_rate(temperature_c: Floats) -> Floats:
    """Return hours of equivalent age per hour for cylinders: the higher of the two laws whose lower one releases.

    Who credits a laboratory with less maturity than it had makes a curve that is too strong.
    """
    return np.maximum(arrhenius_rate(temperature_c), two_branch_rate(temperature_c))


def matured(programme: Programme, file: str, record: tuple[Floats, Floats] | None, lab_c: float | None) -> list[Break]:
    """Return the cylinders with their maturity: as written, by their record, or at a laboratory's own temperature.

    Raises:
        SetupError: hours with neither record nor temperature, or cylinders beyond the record.
    """
    rows = programme.rows
    if programme.by_maturity:
        return [Break(r.specimen, r.age_h, r.mpa) for r in rows]
    if record is None:
        if lab_c is None or not LAB_C[0] <= lab_c <= LAB_C[1]:
            _fault(file, None, "age", "hours", "with --temperatures of the instrumented cylinders, or --lab-c")
        rate = float(laboratory_rate(np.array([lab_c]))[0])
        return [Break(r.specimen, r.age_h * rate, r.mpa) for r in rows]
    hours, celsius = record
    if hours[0] > 0.0:
        hours, celsius = np.insert(hours, 0, 0.0), np.insert(celsius, 0, celsius[0])
    ripened = maturity(hours, celsius, laboratory_rate)
    for r in rows:
        if not r.age_h <= hours[-1]:
            _fault(file, r.line, "age", f"{r.age_h:g} h", f"within the record of temperatures, {hours[-1]:g} h")
    return [Break(r.specimen, float(np.interp(r.age_h, hours, ripened)), r.mpa) for r in rows]
