"""What is said of a fit has words in every language: found in its source, not in a list here."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest

from cure import calibration, cubes, fit
from cure.dashboard.rendering import words
from cure.strength import CURVES

AGAIN: Final = "cure 6 ages of 3 cubes there again, the first at twice the time of final setting"
FOR: Final = {
    "at": "at 12.5 h",
    "where": "at 20 degC",
    "again": AGAIN,
    "at.why_not": "2 cubes at 1 ages are too few for a curve",
    "error": "these values do not tell the parameters",
    "SECOND": "hyperbola",
    "curve": "hyperbola",
    "self.verdict": "fit for planning only",
    "found": "62.0 kJ/mol",
    "covered": "the default law covers 51.5, and colder concrete may be weaker than it says",
}
"""What stands in the place of a part that is a sentence itself."""
LISTS: Final = frozenset({"refused", "doubts", "wanted"})
ENGLISH: Final = re.compile(r"\b(the|of|at|and|or|to|too|not|cylinders?|cubes there|ages?|curve|h already|than|yet)\b")


def text(node: ast.expr) -> str:
    """Return what a literal says, with something in each of its places."""
    if isinstance(node, ast.Constant):
        return str(node.value)
    assert isinstance(node, ast.JoinedStr), ast.unparse(node)
    parts = []
    for part in node.values:
        of = ast.unparse(part.value) if isinstance(part, ast.FormattedValue) else ""
        parts.append(FOR.get(of, "7") if of else str(getattr(part, "value", "")))
    return "".join(parts)


def said() -> Iterator[str]:
    """Give each sentence of the sources."""
    for module in (calibration, cubes, fit):
        for node in ast.walk(ast.parse(Path(str(module.__file__)).read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "append":
                to, what = ast.unparse(node.func.value).rpartition(".")[2], node.args[0]
                if to in LISTS and not isinstance(what, ast.Call):
                    yield text(what)
            elif isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call) and module is fit:
                yield text(node.exc.args[0])
            elif isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "why_not":
                yield from () if isinstance(node.value, ast.Call) else (text(node.value),)
            elif isinstance(node, ast.Return) and isinstance(node.value, ast.List):
                yield from map(text, node.value.elts)


@pytest.mark.parametrize("language", ["fr", "es"])
def test_every_sentence_about_a_fit_has_words_in_every_language(language: str) -> None:
    sentences = dict.fromkeys([*said(), AGAIN])
    assert len(sentences) > 40
    known = words()[language].known
    assert {
        one: ENGLISH.findall(known(one)) for one in sentences if known(one) == one or ENGLISH.search(known(one))
    } == {}


@pytest.mark.parametrize("language", ["fr", "es"])
def test_curves_are_named_in_every_language_but_those_of_a_code(language: str) -> None:
    known = words()[language].known
    assert {curve for curve in CURVES if known(curve) == curve} <= {"en1992", "aci209", "exponencial"}
