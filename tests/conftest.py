"""Quiet tests run first, alone; then simulated days and weeks run beside the others, at the lowest priority, and
outages of stores, which mostly wait.

Most of a session leaves a core to spare; begun only when their tests come, the days would be a third of its time. A
quiet test holds a program that runs at many times real time against hours: whatever else runs would be told as late.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context
from typing import Final

import pytest
from outages import Outage, outage
from sim_run import Came, days, pool, week

SCALE: Final = float(os.environ.get("FAULT_SCALE", "1"))
"""How many times as many seeds are run; 1 in CI."""
_POOL: Final = pytest.StashKey[ProcessPoolExecutor]()
_OUTAGES: Final = pytest.StashKey[tuple[ProcessPoolExecutor, dict[str, Future[Outage]]]]()
_RUNNING: Final = pytest.StashKey[dict[str, list[Future[Came]]]]()


def _of(run: Callable[[int], Came], first: int, how_many: int) -> list[Callable[[], Came]]:
    return [partial(run, seed) for seed in range(first, first + max(1, round(how_many * SCALE)))]


WANTED: Final = {
    "thirty_days": _of(partial(days, length=30.0), 1001, 5),
    "site_weeks": _of(week, 1, 4),
    "three_days": _of(days, 1, 200),
}
"""Fixture -> its runs, the longest first, so that no core waits for another at the end."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the quiet ones first; every other keeps its place."""
    items.sort(key=lambda item: item.get_closest_marker("quiet") is None)


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Begin what any test of this session asks for, once the quiet ones are over."""
    if _RUNNING in item.config.stash or item.get_closest_marker("quiet"):
        return
    asked = {name for one in item.session.items if isinstance(one, pytest.Function) for name in one.fixturenames}
    wanted = {name: runs for name, runs in WANTED.items() if name in asked}
    if wanted:
        workers = item.config.stash[_POOL] = pool()
        item.config.stash[_RUNNING] = {name: [workers.submit(run) for run in runs] for name, runs in wanted.items()}
    else:
        item.config.stash[_RUNNING] = {}
    if "outages" in asked:
        # Not in the pool: one that waits for a minute would keep a core from the days.
        kinds = ["sqlite", *(["influxdb"] if shutil.which("influxd") else [])]
        apart = ProcessPoolExecutor(len(kinds), get_context("spawn"))
        item.config.stash[_OUTAGES] = apart, {kind: apart.submit(outage, kind) for kind in kinds}


def pytest_unconfigure(config: pytest.Config) -> None:
    """End the processes, also after an interrupted session."""
    if _POOL in config.stash:
        config.stash[_POOL].shutdown(cancel_futures=True)
    if _OUTAGES in config.stash:
        config.stash[_OUTAGES][0].shutdown(cancel_futures=True)


def _came(config: pytest.Config, name: str) -> Sequence[Came]:
    return [run.result() for run in config.stash[_RUNNING][name]]


@pytest.fixture
def three_days(pytestconfig: pytest.Config) -> Sequence[Came]:
    """What came of 200 seeds of three days."""
    return _came(pytestconfig, "three_days")


@pytest.fixture
def thirty_days(pytestconfig: pytest.Config) -> Sequence[Came]:
    """What came of 5 seeds of thirty days."""
    return _came(pytestconfig, "thirty_days")


@pytest.fixture
def site_weeks(pytestconfig: pytest.Config) -> Sequence[Came]:
    """What came of 4 bad but usual weeks."""
    return _came(pytestconfig, "site_weeks")


@pytest.fixture
def outages(pytestconfig: pytest.Config) -> Callable[[str], Outage]:
    """What came of a minute without the store, by its kind."""
    return lambda kind: pytestconfig.stash[_OUTAGES][1][kind].result()
