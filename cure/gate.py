"""The gate of one pour and operation: the literal table, and nothing but the table decides a step."""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from typing import Final

from shared.models.base import Ms
from shared.models.decisions import Gate, GateState


class GateEvent(StrEnum):
    """What can happen to a gate."""

    SET_UP = "set-up complete"
    MISSING = "set-up missing"
    MET = "requirement met"
    UNMET = "requirement no longer met"
    DOUBT = "a doubt"
    LIFTED = "the doubt lifted"
    SIGNED = "signed"
    BEGUN = "begun"
    FINISHED = "finished"
    CONTRADICTED = "contradicted by the evidence"
    STOPPED = "STOP pressed"
    REOPENED = "reopened by a person"
    FORMS_OFF = "forms found off"
    SUSPEND = "clock, store or log in doubt"
    RESUME = "the doubt of the service is over"


S, E = GateState, GateEvent

TABLE: Final[dict[tuple[GateState, GateEvent], GateState]] = {
    (S.NOT_SET_UP, E.SET_UP): S.CURING,
    (S.NOT_SET_UP, E.DOUBT): S.HOLD,
    (S.NOT_SET_UP, E.STOPPED): S.WITHDRAWN,
    (S.NOT_SET_UP, E.FORMS_OFF): S.DONE_WITHOUT_RELEASE,
    (S.NOT_SET_UP, E.SUSPEND): S.SUSPENDED,
    (S.CURING, E.MISSING): S.NOT_SET_UP,
    (S.CURING, E.MET): S.MET,
    (S.CURING, E.DOUBT): S.HOLD,
    (S.CURING, E.STOPPED): S.WITHDRAWN,
    (S.CURING, E.FORMS_OFF): S.DONE_WITHOUT_RELEASE,
    (S.CURING, E.SUSPEND): S.SUSPENDED,
    (S.HOLD, E.LIFTED): S.CURING,
    (S.HOLD, E.STOPPED): S.WITHDRAWN,
    (S.HOLD, E.FORMS_OFF): S.DONE_WITHOUT_RELEASE,
    (S.HOLD, E.SUSPEND): S.SUSPENDED,
    (S.MET, E.MISSING): S.NOT_SET_UP,
    (S.MET, E.UNMET): S.CURING,
    (S.MET, E.DOUBT): S.HOLD,
    (S.MET, E.SIGNED): S.RELEASED,
    (S.MET, E.BEGUN): S.UNDER_WAY,
    (S.MET, E.STOPPED): S.WITHDRAWN,
    (S.MET, E.FORMS_OFF): S.DONE_WITHOUT_RELEASE,
    (S.MET, E.SUSPEND): S.SUSPENDED,
    (S.RELEASED, E.BEGUN): S.UNDER_WAY,
    (S.RELEASED, E.FINISHED): S.DONE,
    (S.RELEASED, E.CONTRADICTED): S.WITHDRAWN,
    (S.RELEASED, E.STOPPED): S.WITHDRAWN,
    (S.RELEASED, E.SUSPEND): S.SUSPENDED,
    (S.UNDER_WAY, E.FINISHED): S.DONE,
    (S.UNDER_WAY, E.CONTRADICTED): S.WITHDRAWN,
    (S.UNDER_WAY, E.STOPPED): S.WITHDRAWN,
    (S.UNDER_WAY, E.SUSPEND): S.SUSPENDED,
    (S.DONE, E.CONTRADICTED): S.DONE,
    (S.DONE, E.STOPPED): S.DONE,
    (S.WITHDRAWN, E.REOPENED): S.CURING,
    (S.WITHDRAWN, E.FORMS_OFF): S.DONE_WITHOUT_RELEASE,
    (S.SUSPENDED, E.RESUME): S.CURING,
    (S.SUSPENDED, E.CONTRADICTED): S.WITHDRAWN,
    (S.SUSPENDED, E.STOPPED): S.WITHDRAWN,
    (S.SUSPENDED, E.FORMS_OFF): S.DONE_WITHOUT_RELEASE,
}
"""The whole life of a gate. A pair that is not here cannot happen. (MET, BEGUN) is for sites without sign-offs: `press`
lets it through only there. (SUSPENDED, CONTRADICTED) is for a gate that was released before. RESUME goes back to what
was before, but never straight to MET: see `step`."""

RESUMES_TO: Final = frozenset({S.NOT_SET_UP, S.HOLD, S.RELEASED, S.UNDER_WAY})
NEW_EPOCH: Final = frozenset(
    {(S.CURING, S.MET), (S.WITHDRAWN, S.CURING), (S.WITHDRAWN, S.DONE_WITHOUT_RELEASE), (S.DONE, S.DONE)}
)
"""Steps after which an older message of this gate is not true any more, and may be written anew: each keep-off for
what is done too, and forms found off although their release was withdrawn."""
OPEN: Final = frozenset({S.RELEASED, S.UNDER_WAY})
"""States in which people act on a release."""


def allows(state: GateState, event: GateEvent) -> bool:
    """Return whether the table has the step."""
    return (state, event) in TABLE


def held(gate: Gate) -> GateState:
    """Return where a gate stands, or stood before it was suspended: what people go by."""
    return gate.before if gate.state is S.SUSPENDED and gate.before is not None else gate.state


def step(gate: Gate, event: GateEvent, at_ms: Ms, reason: str) -> Gate:
    """Return the gate after an event.

    Raises:
        KeyError: the table does not have the step.
    """
    after = TABLE[gate.state, event]
    if event is E.RESUME and gate.before in RESUMES_TO:
        after = gate.before
    return replace(
        gate,
        state=after,
        epoch=gate.epoch + ((gate.state, after) in NEW_EPOCH),
        changed_ms=at_ms,
        reason=reason,
        before=gate.state if event is E.SUSPEND else None,
        signers=gate.signers if after in OPEN or after is S.DONE else (),
        snapshot=gate.snapshot if after in OPEN or after in {S.DONE, S.MET} else None,
        steady_from_ms=None,
    )
