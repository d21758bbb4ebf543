"""What a requirement would change for unfinished pours, told before the engineer signs it. Nothing is recorded."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from cure.rounds import Rounds
from shared.models.acts import Act, Require
from shared.models.base import BayId, Operation, PourId
from shared.models.decisions import Finding, GateState, RequirementEdit
from shared.ports import BoardRow, PourCase


@dataclass(frozen=True, slots=True)
class Previewed:
    """One unfinished pour, with the evidence of now."""

    bay: BayId
    pour: PourId
    before: GateState | None
    """None: the operation is a new one."""
    after: GateState
    """In the very round in which it is signed; what is met is met only when it stands for a while."""
    own: bool
    """The bay has a requirement of its own for the operation, which stays: nothing changes."""
    missed: tuple[Finding, ...]
    """What of the new requirement is not met."""


def previewed(rounds: Rounds, rows: Iterable[BoardRow], written: Sequence[Act], act: Require) -> list[Previewed]:
    """Return what becomes of each open pour that a requirement is for.

    Args:
        rounds: judge; record nothing here.
        rows: open pours.
        written: every requirement on the site book.
        act: the new one.

    Raises:
        StoreError: a store failed.
    """
    concerned = [row for row in rows if act.bay in {None, row.pour.bay}]
    return [_of(rounds, row, written, act) for row in concerned]


def _of(rounds: Rounds, row: BoardRow, written: Sequence[Act], act: Require) -> Previewed:
    operation, bay = Operation(act.requirement.operation), row.pour.bay
    own = act.bay is None and any(
        isinstance(w, Require) and w.bay == bay and w.requirement.operation == operation for w in written
    )
    before, after = rounds.imagined(row.pour.id, lambda case: case if own else _changed(case, act))
    verdict = next((v for v in after.state.verdicts if v.operation == operation), None)
    missed = () if verdict is None else tuple(verdict.failed())
    gates = {g.operation: g.state for g in after.gates}
    stood = {g.operation: g.state for g in before.gates}
    return Previewed(bay, row.pour.id, stood.get(operation), gates.get(operation, GateState.NOT_SET_UP), own, missed)


def _changed(case: PourCase, act: Require) -> PourCase:
    """Return the case as it is once the requirement is on the site book."""
    others = [e for e in case.edits if e.requirement.operation != act.requirement.operation]
    version = max((e.version for e in case.edits), default=0) + 1
    new = RequirementEdit(version, act.at_ms, act.who, act.second_person, act.why, act.requirement)
    return replace(case, edits=(*others, new))
