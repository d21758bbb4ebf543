"""What cannot be read of a laboratory's programme is said in the reader's language, whatever is wrong with it."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pytest
from mixes_support import BREAKS
from pages_support import SITE

from alerts.site_words import shipped
from cure import breaks, laboratory
from cure.dashboard.asked import Visitor
from cure.dashboard.beside import Programme
from cure.dashboard.choosing import reader_of
from cure.dashboard.faults import text_fault_said
from cure.dashboard.reader import Reader
from cure.dashboard.rendering import words
from deploy import calibrate_cli, fit_worker
from shared.errors import Fault, SetupError

MODULES: Final = (breaks, laboratory, calibrate_cli, fit_worker)
"""Where programmes are read."""
OF_A_FAULT: Final = {"fault": (2, 3, 4), "Fault": (2, 3, 4)}
"""Calls that take field, found and allowed, and where."""
AS_WRITTEN: Final = {"x1", "x1 h", "x1x1", "x1threshold-mpa"}
"""Values without a word, and names that a form has without what stands before them here."""
AGES, HOURS = "specimen,age_h,strength_mpa\n", "time_h,a_c\n"


def text(node: ast.expr) -> Iterator[str]:
    """Give the literals of a node, with x1 in place of each value."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.JoinedStr):
        yield "".join(str(p.value) if isinstance(p, ast.Constant) else "x1" for p in node.values)
    elif isinstance(node, ast.BoolOp):
        for value in node.values:
            yield from text(value)


def said() -> set[str]:
    """Return what the source says of faults."""
    found = set()
    for module in MODULES:
        tree = ast.parse(Path(str(module.__file__)).read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                places = OF_A_FAULT.get(node.func.id, ())
                found |= {one for i in places if i < len(node.args) for one in text(node.args[i])}
    return found - AS_WRITTEN


@pytest.mark.parametrize("language", ["fr", "es"])
def test_every_part_of_a_fault_has_words(language: str) -> None:
    assert len(said()) > 25
    assert {"no such column", "a number from x1 to x1, without a unit", "row"} <= said()
    known = words()[language].known
    assert [part for part in sorted(said()) if known(part) == part] == []


def reader(language: str) -> Reader:
    return reader_of(shipped(), SITE, Visitor(), {}, language)


def fault_of(changes: dict[str, Any]) -> Fault:
    made = Programme("c32-f", BREAKS, "", None, "none", "s", "l", "2026-10-19", "", version=2)
    with pytest.raises(SetupError) as refused:
        fit_worker.judged({**made.to_json(), **changes})
    [fault] = refused.value.faults
    return fault


WRONG: Final[list[dict[str, Any]]] = [
    {"breaks": ""},
    {"breaks": "specimen\n"},
    {"breaks": AGES + "a,12\n"},
    {"breaks": AGES + "a,12,4 MPa\n"},
    {"breaks": AGES + "a,12,4\na,12,5\n"},
    {"breaks": AGES + ",12,4\n"},
    {"breaks": AGES + "a,12,4\n"},
    {"breaks": "specimen,age_h,age_h,strength_mpa\na,1,1,4\n"},
    {"breaks": "specimen,age_h,age_d,strength_mpa\na,1,1,4\n"},
    {"breaks": "specimen,strength_mpa\na,4\n"},
    {"breaks": "specimen,age_h,strength_mpa,slump\na,1,4,9\n"},
    {"breaks": "age_h,strength_mpa\n1,4\n"},
    {"temperatures": "hours,a_c\n0,20\n"},
    {"temperatures": "time_h,a\n0,20\n"},
    {"temperatures": "time_h\n0\n"},
    {"temperatures": HOURS + "0,20\n9,20\n"},
    {"breaks": AGES + "a,12,4\n", "temperatures": HOURS + "0,20\n2,20\n"},
    {"cubes": "specimen,curing_c\nx,20\n"},
    {"made_on": "yesterday"},
    {"valid_until": "2026-13-01"},
    {"thresholds_mpa": [500.0]},
    {"thresholds_mpa": [5.0] * 9},
    {"narrow_from": 6.0},
    {"narrow_to_percent": 5.0},
]
ENGLISH: Final = re.compile(
    r"\b(found|allowed|column|columns|line|lines|row|nothing|each|name|names|number|hours|unit|them|such|again|within"
    r"|later|made|valid|exactly|twice|too|from|with|of)\b"
)


@pytest.mark.parametrize("changes", WRONG, ids=str)
def test_no_reader_of_another_language_is_told_in_english(changes: dict[str, Any]) -> None:
    fault = fault_of(changes)
    assert text_fault_said(fault, reader("en")) == str(fault)
    for language in ("fr", "es"):
        told = text_fault_said(fault, reader(language))
        # Names of columns are the same everywhere, and so is what was typed.
        rest = re.sub(r"'[^']*'|\w+_\w+|strength_mpa", "", told)
        assert ENGLISH.findall(rest) == [], told


def test_what_was_typed_stays_as_it_was_typed() -> None:
    told = text_fault_said(
        Fault("breaks", 2, "age_h", "'two or three'", "a number from 0 to 9, without a unit"), reader("fr")
    )
    assert told == "ruptures, ligne 2 : age_h : trouvé 'two or three' ; admis : un nombre de 0 à 9, sans unité"
