"""What the suites of the site book share: values with everything in them, gates moved, acts, a book as text."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

from store_support import EDGE, POUR, T0, gates_with, make_start

from shared.models.acts import FileDocument, Require, Sign, StrengthTest, instant
from shared.models.base import HOUR_MS, LOAD, STRIP, Operation, PourId
from shared.models.decisions import (
    ClockSpan,
    Doubt,
    DoubtKind,
    Finding,
    Gate,
    GateState,
    Hold,
    HoldKind,
    PourState,
    Verdict,
)
from shared.models.estimate import Estimate
from shared.models.requirement import Requirement
from shared.ports import PourCase

OTHER_POUR = PourId("2-b2-p1")
HOLD = Hold(HoldKind.FREEZE_SUSPECTED, T0, "qc", "0.4 degC at the edge", "measure the surface")
DOUBT = Doubt(DoubtKind.CLOCK, T0 + 5, "the service's clock jumped ahead by 2.0 h")
SPANS = (
    ClockSpan("boot-a", T0, 10, T0 + HOUR_MS, 10 + HOUR_MS, synchronised=False),
    ClockSpan("boot-b", T0 + 2 * HOUR_MS, 7, T0 + 3 * HOUR_MS, 7 + HOUR_MS, synchronised=True),
)
STATE = PourState(
    as_of_ms=T0 + 1,
    input_revision=0,
    next_due_ms=T0 + 900_000,
    code="0.1.0",
    estimate=Estimate(T0, 0.1, -1.5, EDGE, 1 / 3, None, 2.0, 0.7, {"5": 0.25}, {"batch": 0.3}),
    verdicts=(
        Verdict(STRIP, (), False, (Finding("lower bound", 0.7, 3.5, "MPa", False), Finding("x", None, "y", "", False))),
        Verdict(LOAD, ("consent",), False, ()),
    ),
    memory={"silent": ["lg-01.1"], "delay": {"strip": 3.5, "told": None}},
)


def gate(case: PourCase, operation: Operation, state: GateState, epoch: int = 1) -> tuple[Gate, ...]:
    """Return the gates of a case with one of them moved."""
    return gates_with(case, operation, replace(case.gates[operation], state=state, epoch=epoch))


def sign(who: str = "qc") -> Sign:
    """Return a signature on strip."""
    return Sign(at=make_start().at, who=who, pour=POUR, operations=(STRIP,))


def document(name: str = "props drawing", **of: str) -> FileDocument:
    """Return the act that puts a document on file: of the site, or of the `bay` or `pour` given."""
    return FileDocument(at=instant(T0 + 9), who="engineer", name=name, reference=f"{name}, rev. 2", **of)


def require(operation: str = STRIP, age_h: float = 30, bay: str | None = None) -> Require:
    """Return the act that writes a requirement."""
    return Require(
        at=instant(T0 + 9),
        who="engineer",
        requirement=Requirement.model_validate({"operation": operation, "all": [{"age_h": age_h}]}),
        bay=bay,
        second_person="qc",
        why="cold week",
    )


def strength_test(mpa: float = 4.2, **changes: Any) -> StrengthTest:
    """Return the act that hands in a test of the concrete."""
    whole = {"at": instant(T0 + 9), "who": "qc", "pour": POUR, "method": "cylinder", "mpa": mpa, **changes}
    return StrengthTest.model_validate(whole)


def dump(folder: Path) -> list[str]:
    """Return everything that is durable in a book, as SQL."""
    with closing(sqlite3.connect(folder / "site.db")) as raw:
        return list(raw.iterdump())
