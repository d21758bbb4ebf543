"""Rows about the site, what is on file, and the service itself, to values and back."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any, Final

from sqlalchemy import RowMapping

from shared.models.base import BayId, PourId
from shared.models.decisions import Beside, ByHand, ClockSpan, Document, Doubt, DoubtKind, RequirementEdit, TestResult
from shared.models.requirement import Requirement
from shared.models.setup import Zone
from shared.store import tables as t


def document_from(row: RowMapping) -> Document:
    """Return the document of a row."""
    return Document(row["name"], row["reference"], row["who"], row["at_ms"])


def test_result_from(row: RowMapping) -> TestResult:
    """Return the test result of a row."""
    return TestResult(
        method=row["method"],
        mpa=row["mpa"],
        equivalent_age_h=row["equivalent_age_h"],
        last_third=bool(row["last_third"]),
        position=row["position"],
        tested_ms=row["tested_ms"],
        by=row["who"],
    )


def by_hand_from(row: RowMapping) -> ByHand:
    """Return the temperature measured by hand of a row."""
    zone = None if row["zone"] is None else Zone(row["zone"])
    return ByHand(row["taken_ms"], row["milli_c"], row["position"], zone, bool(row["under_insulation"]), row["who"])


def edit_from(row: RowMapping) -> RequirementEdit:
    """Return the requirement of a row."""
    requirement = _requirement(row["body"])
    return RequirementEdit(row["version"], row["at_ms"], row["who"], row["second_person"], row["why"], requirement)


@lru_cache(maxsize=256)
def _requirement(body: str) -> Requirement:
    return Requirement.model_validate_json(body)


def beside_from(row: RowMapping) -> Beside:
    """Return a pour beside another one."""
    return Beside(PourId(row["id"]), BayId(row["bay"]), row["start_ms"], row["end_ms"])


_S: Final = t.clock_span.c
# By position: a case holds up to hundreds of them, and names cost ten times as much.
SPAN: Final = (_S.boot, _S.from_ms, _S.from_boot_ms, _S.to_ms, _S.to_boot_ms, _S.synchronised)
"""Columns of a stretch of the clock, as `span_from` takes them."""


def span_from(row: Sequence[Any]) -> ClockSpan:
    """Return the stretch of the clock of a row of `SPAN`."""
    boot, from_ms, from_boot_ms, to_ms, to_boot_ms, synchronised = row
    return ClockSpan(boot, from_ms, from_boot_ms, to_ms, to_boot_ms, bool(synchronised))


def span_to(span: ClockSpan) -> dict[str, Any]:
    """Return the row of a stretch of the clock, but for its number."""
    return {
        "boot": span.boot,
        "from_ms": span.from_ms,
        "from_boot_ms": span.from_boot_ms,
        "to_ms": span.to_ms,
        "to_boot_ms": span.to_boot_ms,
        "synchronised": int(span.synchronised),
    }


def doubt_from(row: RowMapping) -> Doubt:
    """Return the doubt of a row."""
    return Doubt(DoubtKind(row["kind"]), row["since_ms"], row["reason"])
