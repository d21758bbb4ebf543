"""A laboratory's table, read strictly from CSV. Pure; text in, values out.

A column says its unit by its name. What a laboratory wrote is not guessed at: every cell that is wrong is told, with
line and column, and nothing is taken of the file.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from io import StringIO
from typing import Final, NoReturn

from shared.errors import Fault, SetupError
from shared.units import f_to_c, psi_to_mpa

SPECIMEN: Final = "specimen"
AGES: Final = {"age_h": 1.0, "age_d": 24.0}
"""Hours in a unit of age, by column."""
STRENGTHS: Final[Mapping[str, Callable[[float], float]]] = {
    "strength_mpa": float,
    "strength_psi": psi_to_mpa,
}
TEMPERATURES: Final[Mapping[str, Callable[[float], float]]] = {"_c": float, "_f": f_to_c}
"""What ends the name of a column of temperatures."""
STRONGEST_MPA: Final = 200.0
OLDEST_H: Final = 10_000.0
Line = tuple[int, dict[str, str]]
"""Where a line of the table stands, and its cells by column."""


MOST_FAULTS: Final = 20
"""Are told of one file; of the others how many they are."""


@dataclass(slots=True)
class Faults:
    """What is wrong with the cells of one file, gathered so that all of it is told at once."""

    file: str
    found: list[Fault] = field(default_factory=list)

    @contextmanager
    def gathered(self) -> Iterator[None]:
        """Go on behind a cell that is wrong; what was read of its row is not used."""
        try:
            yield
        except SetupError as error:
            self.found += error.faults

    def refuse(self) -> None:
        """Refuse the file if anything was gathered, from its first line to its last.

        Raises:
            SetupError: the first faults, and how many there are beside them.
        """
        ordered = sorted(self.found, key=lambda one: one.line or 0)
        told, more = ordered[:MOST_FAULTS], len(ordered) - MOST_FAULTS
        if more > 0:
            told.append(Fault(self.file, None, "file", f"{more} more faults", "none of them"))
        if told:
            raise SetupError(told)


def fault(file: str, line: int | None, field: str, found: str, allowed: str) -> NoReturn:
    """Refuse a file.

    Raises:
        SetupError: this one fault.
    """
    raise SetupError([Fault(file, line, field, found, allowed)])


def table(text: str, faults: Faults) -> tuple[list[str], list[Line]]:
    """Return the columns of a CSV, and its lines; one of another length is a fault, and left out.

    Raises:
        SetupError: it is no table.
    """
    file = faults.file
    reader = csv.reader(StringIO(text.removeprefix("\ufeff")))
    rows = [(reader.line_num, [cell.strip() for cell in row]) for row in reader if any(cell.strip() for cell in row)]
    if not rows:
        fault(file, None, "file", "nothing", "a line of column names, then a line each")
    (at, names), *rest = rows
    for name in names:
        if names.count(name) > 1:
            fault(file, at, name or "column", "twice", "each column once")
    for line, row in rest:
        if len(row) != len(names):
            with faults.gathered():
                fault(file, line, "row", f"{len(row)} columns", f"{len(names)}, as the first line has")
    if not rest:
        fault(file, None, "file", "only column names", "a line each")
    return names, [(line, dict(zip(names, row, strict=True))) for line, row in rest if len(row) == len(names)]


def columns(names: Sequence[str], file: str, *kinds: Sequence[str]) -> list[str]:
    """Return the column of each kind that a table of specimens has.

    Raises:
        SetupError: no specimens, none or several of a kind, or a column of no kind.
    """
    if SPECIMEN not in names:
        fault(file, 1, SPECIMEN, "no such column", "the name of each cylinder or cube")
    found = [_one_of(names, kind, file) for kind in kinds]
    for name in names:
        if name not in {SPECIMEN, *found}:
            fault(file, 1, name or "column", "an unknown column", ", ".join((SPECIMEN, *found)))
    return found


def _one_of(names: Sequence[str], wanted: Sequence[str], file: str) -> str:
    there = [name for name in names if name in wanted]
    if len(there) != 1:
        found = " and ".join(there) or "none of them"
        fault(file, 1, " or ".join(wanted), found, "exactly one: a programme has one unit")
    return there[0]


def specimens(rows: Sequence[Line], faults: Faults) -> Iterator[tuple[str, int, dict[str, str]]]:
    """Go through the specimens: name, line and cells of each. One without a name, or that was there, is a fault."""
    seen = dict[str, int]()
    for line, row in rows:
        specimen = row[SPECIMEN]
        with faults.gathered():
            if not specimen:
                fault(faults.file, line, SPECIMEN, "nothing", "the name of the cylinder or cube")
            if specimen in seen:
                again = f"{specimen!r} again, as in line {seen[specimen]}"
                fault(faults.file, line, SPECIMEN, again, "each of them once")
        seen.setdefault(specimen, line)
        yield specimen, line, row


def number(cell: str, file: str, line: int, column: str, low: float, high: float) -> float:
    """Return the number of a cell.

    Raises:
        SetupError: it is none, or outside its limits.
    """
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if not low <= value <= high:
        fault(file, line, column, repr(cell), f"a number from {low:g} to {high:g}, without a unit")
    return value


def age_h(row: Mapping[str, str], file: str, line: int, column: str) -> float:
    """Return the age, or the equivalent age, of a specimen. [h]"""
    hours = AGES.get(column, 1.0)
    return number(row[column], file, line, column, 0.0, OLDEST_H / hours) * hours


def strength_mpa(row: Mapping[str, str], file: str, line: int, column: str) -> float:
    """Return the strength of a specimen. [MPa]"""
    to_mpa = STRENGTHS[column]
    return to_mpa(number(row[column], file, line, column, 0.0, STRONGEST_MPA / to_mpa(1.0)))
