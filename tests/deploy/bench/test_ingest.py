from __future__ import annotations

import argparse
import json
from typing import Any

import pytest

from deploy.bench.children import ended
from deploy.bench.ingest import RUNS, SAID, attempt, judged

OPTIONS = argparse.Namespace(rate=1000.0)
STEADY: dict[str, Any] = {
    "wanted_rate": 1000.0,
    "published_rate": 1000.0,
    "rate": 981.0,
    "sent": 9,
    "committed": 9,
    "p50_ms": 4.0,
}
STEADY |= {"p99_ms": 9.0, "resident_mb": [90.0, 91.0, 92.0], "processor_us": 400.0}
DONE: dict[str, Any] = {
    "bare": 3000.0,
    "socket": 30_000.0,
    "full": {"rate": 900.0, "sent": 7, "committed": 7},
    "steady": STEADY,
    "backlog": {"committed": 5, "published": 5, "seconds": 1.0, "rate": 5.0, "resident_mb": [9.0], "publishing_s": 1.0},
}


class Failed:
    """A process that could not do its work."""

    def heard(self) -> str:
        return json.dumps({"failed": "publisher: the broker ended the connection of lg-0-0"})


def test_a_run_that_fails_is_named_with_its_reason_and_the_others_are_told_all_the_same() -> None:
    found: dict[str, Any] = {"broker": "embedded", "failed": {}}
    told: list[str] = []
    attempt("full", lambda: ended([Failed()]), found, told.append)  # type: ignore[list-item]
    for run in set(RUNS) - {"full"}:
        attempt(run, lambda run=run: DONE[run], found, told.append)  # type: ignore[misc]
    assert told[0] == "  full FAILED: RuntimeError: publisher: the broker ended the connection of lg-0-0"
    assert len(told) == len(RUNS)
    assert set(SAID) == set(RUNS)
    judged(found, OPTIONS, told.append)
    assert not found["within"]
    assert "embedded: NOT MET: full was run" in told
    assert "embedded: met: 981/s, wanted 1000/s" in told


@pytest.mark.parametrize(
    ("run", "change", "broken"),
    [
        ("full", {}, None),
        ("full", {"rate": 899.0}, "0.30 of bare, wanted 0.3"),
        ("full", {"committed": 6}, "all of full committed"),
        ("steady", {"rate": 979.0}, "979/s, wanted 1000/s"),
        ("steady", {"rate": float("nan")}, "nan/s, wanted 1000/s"),
        ("backlog", {"committed": 4}, "all of backlog committed"),
    ],
)
def test_each_limit_is_held_by_what_was_measured(run: str, change: dict[str, float], broken: str | None) -> None:
    found = {"broker": "mosquitto", "failed": {}, **DONE, run: DONE[run] | change}
    told: list[str] = []
    judged(found, OPTIONS, told.append)
    assert found["within"] is (broken is None)
    assert [line for line in told if "NOT MET" in line] == ([] if broken is None else [f"mosquitto: NOT MET: {broken}"])
