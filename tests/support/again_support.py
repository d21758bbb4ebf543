"""Refusals of a bench, screened again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ingest_support import Bench

from ingest.again import Again, screen_again
from shared.models.base import Ms, SensorId
from shared.models.readings import Refusal


class Decisions:
    """`RefusedBook` over the refusals of a bench."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self.decided: dict[int, str] = {}

    def standing(self, sensor: SensorId | None) -> Sequence[Refusal]:
        every = [Refusal(no, r) for no, r in enumerate(self._bench.book.refused(), 1)]
        return [r for r in every if r.no not in self.decided and sensor in {None, r.refused.sensor}]

    def decide(self, outcomes: Mapping[int, str], at_ms: Ms) -> None:
        for no, outcome in outcomes.items():
            self.decided.setdefault(no, f"{outcome}" if at_ms else "")


def again(bench: Bench, book: Decisions, sensor: SensorId | None = None) -> tuple[Again, ...]:
    """Screen again all that stands refused."""
    return screen_again(bench.intake, book, bench.clock.now(), sensor)


def outcomes(found: Sequence[Again]) -> list[str]:
    """Return what became of each."""
    return [one.outcome for one in found]
