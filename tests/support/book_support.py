"""What the suites of the site book share: a hold, a state with everything in it, gates moved, an act."""

from __future__ import annotations

from dataclasses import replace

from store_support import EDGE, POUR, T0, gates_with, make_start

from shared.models.acts import Sign
from shared.models.base import LOAD, STRIP, Operation, PourId
from shared.models.decisions import Estimate, Finding, Gate, GateState, Hold, HoldKind, PourState, Verdict
from shared.ports import PourCase

OTHER_POUR = PourId("2-b2-p1")
HOLD = Hold(HoldKind.FREEZE_SUSPECTED, T0, "qc", "0.4 degC at the edge", "measure the surface")
STATE = PourState(
    as_of_ms=T0 + 1,
    input_revision=0,
    next_due_ms=T0 + 900_000,
    code="0.1.0",
    estimate=Estimate(T0, 0.1, -1.5, EDGE, 1 / 3, None, 2.0, 0.7, {"5": 0.25}),
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
