"""Quiet tests run first, alone: one holds a program that runs at many times real time against hours, and whatever else
runs would be told as late. Then modules with long ones, so that no worker of a session waits for them at its end.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

import pytest
from hypothesis import HealthCheck, settings
from xdist.scheduler import LoadFileScheduling

# How long an example takes says what else the machine does: no property is judged by the clock.
settings.register_profile("no clock", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("no clock")

TOGETHER: Final = {"tests/cure/test_assess_simulated.py": "tests/cure/test_bound_mixes.py"}
"""Modules that one worker takes: they stand on the same calibrations, which are costly to fit."""


class ByFile(LoadFileScheduling):  # type: ignore[misc]  # xdist ships no types
    """A file is one worker's, with those that share what it makes."""

    def _split_scope(self, nodeid: str) -> str:
        file: str = super()._split_scope(nodeid)
        return TOGETHER.get(file, file)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> ByFile:
    """Hand a file out whole."""
    return ByFile(config, log)


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Do not import all others, and what their folders share, for the sake of the few quiet ones."""
    if config.option.markexpr != "quiet" or not (collection_path.is_dir() or collection_path.suffix == ".py"):
        return None
    tests = collection_path.rglob("test_*.py") if collection_path.is_dir() else [collection_path]
    return not any("pytest.mark.quiet" in path.read_text(encoding="utf-8") for path in tests) or None


def _rank(item: pytest.Item) -> int:
    return 0 if item.get_closest_marker("quiet") else 1 if item.get_closest_marker("long") else 2


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the quiet ones first, then the long ones; every other keeps its place."""
    items.sort(key=_rank)
