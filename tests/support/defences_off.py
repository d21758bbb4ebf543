"""A pytest plugin: runs the tests of each row of the fault catalogue with that row's defence switched off.

    python -m pytest -p defences_off [--row L1] [--every] [tests/...]

Prints one JSON line a switch: which tests failed on an assertion, which passed all the same, which broke otherwise.
A defence is proved when the test that `defences_proofs` names for it carries the row's mark and fails on an assertion.
`--every` tries all tests of a row: what a mark is worth. The switches: `defences.SWITCHES`.
"""

from __future__ import annotations

import json
import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest
from _pytest.runner import runtestprotocol
from defences import SWITCHES, row_of
from defences_proofs import PROOFS
from hypothesis import HealthCheck, Phase, settings

# A failing property is all that is asked here; the smallest one is not.
settings.register_profile(
    "defences off", phases=[Phase.explicit, Phase.generate], suppress_health_check=list(HealthCheck), database=None
)

TESTS: Final = Path(__file__).parents[1]
_SAID: dict[str, dict[str, list[str]]] = defaultdict(lambda: {"failed": [], "passed": [], "broke": []})


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--row", action="append", default=[], help="only these rows")
    parser.addoption("--every", action="store_true", help="every test of a row, not only its proof")


def pytest_configure(config: pytest.Config) -> None:
    del config
    settings.load_profile("defences off")


def switches_of(item: pytest.Item) -> list[str]:
    """Return the wanted switches of the rows that a test's marks name."""
    wanted, every = item.config.getoption("--row"), item.config.getoption("--every")
    rows = {row for mark in item.iter_markers("row") for row in mark.args}
    found = [s for s in SWITCHES if row_of(s) in rows and (not wanted or row_of(s) in wanted)]
    return found if every else [s for s in found if is_proof(item.nodeid, s)]


def is_proof(nodeid: str, switch: str) -> bool:
    """Return whether a test, or a case of it, is the one that must notice."""
    return nodeid.partition("[")[0] == f"tests/{PROOFS.get(switch)}"


def forget() -> None:
    """Empty the caches of the tests: what was worked out with other defences does not count."""
    for module in list(sys.modules.values()):
        if (getattr(module, "__file__", None) or "").startswith(str(TESTS)):
            for thing in list(vars(module).values()):
                if callable(clear := getattr(thing, "cache_clear", None)):
                    clear()


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    proving = [item for item in items if switches_of(item)]
    config.hook.pytest_deselected(items=[item for item in items if item not in proving])
    items[:] = proving


_RAISED: list[BaseException | None] = []


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Iterator[None]:
    del item
    if call.when == "call":
        _RAISED.append(None if call.excinfo is None else call.excinfo.value)
    return (yield)


def on_assertion(error: BaseException | None) -> bool:
    """Return whether a test failed because what it asserts is not so."""
    if isinstance(error, BaseExceptionGroup):
        return any(map(on_assertion, error.exceptions))
    return isinstance(error, AssertionError | pytest.fail.Exception)


def pytest_runtest_protocol(item: pytest.Item) -> bool:
    every = item.config.getoption("--every")
    for switch in switches_of(item):
        # One case of a proof that notices is enough.
        if _SAID[switch]["failed"] and not every:
            continue
        _RAISED.clear()
        forget()
        with pytest.MonkeyPatch.context() as patch:
            SWITCHES[switch](patch)
            reports = runtestprotocol(item, log=False, nextitem=None)
        called = [r for r in reports if r.when == "call"]
        failed = bool(_RAISED) and on_assertion(_RAISED[-1])
        passed = bool(called) and all(r.passed or r.skipped for r in called)
        _SAID[switch]["failed" if failed else "passed" if passed else "broke"].append(item.nodeid)
    return True


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    for switch in sorted(_SAID):
        terminalreporter.write_line("switch " + json.dumps({"switch": switch, **_SAID[switch]}))
