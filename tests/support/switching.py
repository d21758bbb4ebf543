"""How a defence is taken out of the product for a test run: by a name, a line of a table, or a few words of source."""

from __future__ import annotations
import __future__

import ast
import inspect
import textwrap
from collections.abc import Callable, Mapping
from types import FunctionType
from typing import Any, TypeAlias

import pytest

Switch: TypeAlias = Callable[[pytest.MonkeyPatch], None]
"""Takes one defence out, until the patch is undone."""
Switches: TypeAlias = Mapping[str, Switch | tuple[Switch, ...]]
"""By row; several where each must be noticed by itself."""


def put(target: Any, name: str, value: Any) -> Switch:
    """Return a switch that puts something in place of a defence."""
    return lambda patch: patch.setattr(target, name, value)


def both(*switches: Switch) -> Switch:
    """Return one switch of several, where one defence stands behind the other."""

    def throw(patch: pytest.MonkeyPatch) -> None:
        for switch in switches:
            switch(patch)

    return throw


def rewritten(patch: pytest.MonkeyPatch, function: Callable[..., Any], *words: tuple[str, str]) -> None:
    """Run a function with some words of its source exchanged, wherever it has been imported.

    Args:
        patch: takes it back.
        function: a plain function or method of the product.
        words: what stands there, exactly once, and what stands in its place.

    Raises:
        LookupError: the words are not there any more: the switch must be looked at again.
    """
    assert isinstance(function, FunctionType)
    source = textwrap.dedent(inspect.getsource(function))
    for old, new in words:
        if source.count(old) != 1:
            raise LookupError(f"{function.__module__}.{function.__qualname__} says {source.count(old)} times: {old}")
        source = source.replace(old, new)
    tree = ast.parse(source)
    (found,) = tree.body
    assert isinstance(found, ast.FunctionDef)
    found.decorator_list = []
    ast.increment_lineno(tree, function.__code__.co_firstlineno - 1)
    flags = __future__.annotations.compiler_flag
    made: dict[str, Any] = {}
    # The product's own source with those words exchanged, nothing from outside.
    exec(compile(tree, function.__code__.co_filename, "exec", flags), function.__globals__, made)  # noqa: S102
    patch.setattr(function, "__code__", made[function.__name__].__code__)
