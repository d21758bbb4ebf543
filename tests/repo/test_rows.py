"""`@pytest.mark.row("N8")` says which rows of the fault catalogue a test proves; a mark that marks nothing lies."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

TESTS = Path(__file__).parents[1]
ROW = re.compile(r"[A-Z][1-9][0-9]?")
INGEST = {"L": 18, "R": 9, "C": 12, "B": 10, "N": 11, "S": 14}
"""Rows of logger, radio, clocks, broker, listener and stores: L1 to L18, and so on. Each has a test."""


class Mark(NamedTuple):
    where: str
    on: str
    ids: tuple[object, ...]


def row_calls(node: ast.AST) -> Iterator[ast.Call]:
    for inner in ast.walk(node):
        if isinstance(inner, ast.Call) and ast.unparse(inner.func) == "pytest.mark.row":
            yield inner


@cache
def marks() -> tuple[Mark, ...]:
    return tuple(found())


def found() -> Iterator[Mark]:
    for path in sorted(TESTS.rglob("*.py")):
        if path == Path(__file__):
            continue
        text = path.read_text(encoding="utf-8")
        if "mark.row" not in text:
            continue
        tree = ast.parse(text)
        named = {
            id(call): node.name
            for node in ast.walk(tree)
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef)
            for decorator in node.decorator_list
            for call in row_calls(decorator)
        }
        in_cases = {id(c) for node in ast.walk(tree) if is_param(node) for c in row_calls(node)}
        for call in row_calls(tree):
            on = named.get(id(call), "test_case" if id(call) in in_cases else "nothing")
            ids = tuple(a.value if isinstance(a, ast.Constant) else ast.unparse(a) for a in call.args)
            yield Mark(f"{path.relative_to(TESTS)}:{call.lineno}", on, ids)


def is_param(node: ast.AST) -> bool:
    """A case of a parametrised test may carry the mark."""
    return isinstance(node, ast.Call) and ast.unparse(node.func) == "pytest.param"


def test_every_row_id_is_a_letter_and_a_number() -> None:
    wrong = [m for m in marks() if not m.ids or not all(isinstance(i, str) and ROW.fullmatch(i) for i in m.ids)]
    assert wrong == []


def test_every_row_mark_stands_on_a_test() -> None:
    assert [m for m in marks() if not m.on.startswith("test_")] == []


def test_every_row_from_logger_to_store_is_proved() -> None:
    proved = {i for m in marks() for i in m.ids}
    assert [
        f"{letter}{n}" for letter, last in INGEST.items() for n in range(1, last + 1) if f"{letter}{n}" not in proved
    ] == []
