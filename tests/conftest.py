"""Quiet tests run first, alone: one holds a program that runs at many times real time against hours, and whatever else
runs would be told as late. Then the simulated days, so that no worker of a session waits for them at its end.
"""

from __future__ import annotations

import pytest


def _rank(item: pytest.Item) -> int:
    return 0 if item.get_closest_marker("quiet") else 1 if item.get_closest_marker("long") else 2


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the quiet ones first, then the long ones; every other keeps its place."""
    items.sort(key=_rank)
