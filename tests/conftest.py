"""Quiet tests run first, alone: one holds a program that runs at many times real time against hours, and whatever else
runs would be told as late. Then the simulated days, so that no worker of a session waits for them at its end.
"""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, settings

# How long an example takes says what else the machine does: no property is judged by the clock.
settings.register_profile("no clock", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("no clock")


def _rank(item: pytest.Item) -> int:
    return 0 if item.get_closest_marker("quiet") else 1 if item.get_closest_marker("long") else 2


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the quiet ones first, then the long ones; every other keeps its place."""
    items.sort(key=_rank)
