"""Evidence as a test wants it, and tests of concrete."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from shared.models import requirement as r
from shared.models.base import STRIP, Operation
from shared.models.decisions import Document, TestResult

DONE: Final = r.DoneRule(done=STRIP)
NOTHING_ON_FILE: Final[tuple[r.Rule, ...]] = (
    DONE,
    r.DocumentRule(document="shoring plan"),
    r.ConstructionLoadRule(construction_load=True),
    r.ConsentRule(consent=True),
    r.NoStripNearRule(no_strip_near=True),
)
"""Rules that a person's word meets, or a bay beside breaks."""


@dataclass
class Found:
    """Evidence of a pour that has everything; a test takes something away."""

    age: float = 100.0
    counted: float = 100.0
    coldest: float = 20.0
    bound: float = 20.0
    governing: float = 60.0
    apart: float = 2.0
    dropped: float = 3.0
    finished: tuple[Operation, ...] = (STRIP,)
    tested: tuple[TestResult, ...] = ()
    specified: float | None = 32.0
    filed: tuple[Document, ...] = ()
    load: float | None = 2.0
    written: str | None = "consent.pdf"
    near: tuple[str, ...] = ()

    def age_h(self) -> float:
        return self.age

    def counted_h(self, at_c: float) -> float:
        assert at_c in {5.0, 10.0, 13.0}
        return self.counted

    def coldest_through_c(self, hours: float) -> float:
        assert hours == 1.0
        return self.coldest

    def lower_bound_mpa(self) -> float:
        return self.bound

    def governing_age_h(self) -> float:
        return self.governing

    def done(self, operation: Operation) -> bool:
        return operation in self.finished

    def tests(self) -> Sequence[TestResult]:
        return self.tested

    def specified_mpa(self) -> float | None:
        return self.specified

    def documents(self) -> Sequence[Document]:
        return self.filed

    def construction_load_kpa(self) -> float | None:
        return self.load

    def consent(self) -> str | None:
        return self.written

    def stripping_near(self) -> tuple[str, ...]:
        return self.near

    def surface_from_air_c(self) -> float:
        return self.apart

    def drop_c(self, hours: float) -> float:
        assert hours == 24.0
        return self.dropped


def broken(mpa: float, **changes: Any) -> TestResult:
    """Return a cylinder of the last third with its own temperature record, 50 equivalent hours old."""
    return replace(TestResult("cylinder", mpa, 50.0, True, None, 0, "qc"), **changes)


def pulled(mpa: float, **changes: Any) -> TestResult:
    """Return a test in the slab, in the last third of the pour."""
    whole: dict[str, Any] = {"method": "pullout", "equivalent_age_h": None, "position": "grid B4"}
    return broken(mpa, **(whole | changes))
