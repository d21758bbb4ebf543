"""The life of one delivery: a literal table, the fence before each attempt, and the rules for an unknown outcome.

Pure. The dispatcher asks `may_go` and `step` inside one transaction each; nothing here sends anything.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final, TypeAlias

from alerts.lesser import Lesser, standing
from shared.models.base import HOUR_MS, MINUTE_MS, STRIP, Ms
from shared.models.decisions import Gate, GateState
from shared.models.messages import PERMITS, Delivery, DeliveryState, Due, MessageKind, Outcome, OutcomeKind


class DeliveryEvent(StrEnum):
    """What can happen to a delivery."""

    CLAIMED = "claimed"
    VOIDED = "voided"
    ACCEPTED = "accepted"
    ACCEPTED_TOO_SOON = "accepted, must go again"
    NOT_ACCEPTED = "not accepted"
    REFUSED = "refused"
    SPENT = "attempts used up"
    LOST = "outcome unknown"
    RETRIED = "retried"
    OVERTAKEN = "overtaken by a late release"
    CONFIRMED = "confirmed"


TRANSITIONS: Final[dict[tuple[DeliveryState, DeliveryEvent], DeliveryState]] = {
    (DeliveryState.QUEUED, DeliveryEvent.CLAIMED): DeliveryState.CALLING,
    (DeliveryState.QUEUED, DeliveryEvent.VOIDED): DeliveryState.SUPERSEDED,
    (DeliveryState.WAITING, DeliveryEvent.CLAIMED): DeliveryState.CALLING,
    (DeliveryState.WAITING, DeliveryEvent.VOIDED): DeliveryState.SUPERSEDED,
    (DeliveryState.CALLING, DeliveryEvent.ACCEPTED): DeliveryState.ACCEPTED,
    (DeliveryState.CALLING, DeliveryEvent.ACCEPTED_TOO_SOON): DeliveryState.QUEUED,
    (DeliveryState.CALLING, DeliveryEvent.NOT_ACCEPTED): DeliveryState.WAITING,
    (DeliveryState.CALLING, DeliveryEvent.REFUSED): DeliveryState.REFUSED,
    (DeliveryState.CALLING, DeliveryEvent.SPENT): DeliveryState.ESCALATED,
    (DeliveryState.CALLING, DeliveryEvent.LOST): DeliveryState.UNSURE,
    (DeliveryState.CALLING, DeliveryEvent.OVERTAKEN): DeliveryState.CALLING,
    (DeliveryState.UNSURE, DeliveryEvent.RETRIED): DeliveryState.WAITING,
    (DeliveryState.UNSURE, DeliveryEvent.VOIDED): DeliveryState.SUPERSEDED,
    (DeliveryState.UNSURE, DeliveryEvent.SPENT): DeliveryState.ESCALATED,
    (DeliveryState.QUEUED, DeliveryEvent.CONFIRMED): DeliveryState.CONFIRMED,
    (DeliveryState.CALLING, DeliveryEvent.CONFIRMED): DeliveryState.CONFIRMED,
    (DeliveryState.WAITING, DeliveryEvent.CONFIRMED): DeliveryState.CONFIRMED,
    (DeliveryState.UNSURE, DeliveryEvent.CONFIRMED): DeliveryState.CONFIRMED,
    (DeliveryState.WAITING, DeliveryEvent.OVERTAKEN): DeliveryState.WAITING,
    (DeliveryState.UNSURE, DeliveryEvent.OVERTAKEN): DeliveryState.UNSURE,
    (DeliveryState.ACCEPTED, DeliveryEvent.CLAIMED): DeliveryState.CALLING,
    (DeliveryState.ACCEPTED, DeliveryEvent.OVERTAKEN): DeliveryState.QUEUED,
    (DeliveryState.ACCEPTED, DeliveryEvent.CONFIRMED): DeliveryState.CONFIRMED,
    (DeliveryState.CONFIRMED, DeliveryEvent.OVERTAKEN): DeliveryState.QUEUED,
}
"""The whole life of a delivery. A pair that is not here cannot happen: `step` raises `KeyError`."""

INSISTENT: Final = frozenset({MessageKind.WITHDRAWAL, MessageKind.KEEP_OFF})
"""Kinds that never give up, never expire, and repeat until a person confirms."""
REPEAT_MS: Final = 5 * MINUTE_MS
_QUICK_ATTEMPTS: Final = 10
_QUICK_MS: Final = MINUTE_MS
_DELAYS_MS: Final = (30_000, 2 * MINUTE_MS, 8 * MINUTE_MS, 30 * MINUTE_MS)
"""After attempt 1, 2, 3, 4 of the other kinds; the fifth is the last."""
_DOUBT_MS: Final = MINUTE_MS
_STANDS_MS: Final[dict[MessageKind, Ms]] = {
    MessageKind.MORNING_LIST: 15 * MINUTE_MS,
    MessageKind.HANDOVER: 15 * MINUTE_MS,
    MessageKind.COVER_TONIGHT: 8 * HOUR_MS,
}
"""How long a list of what stands may be told: a release on it may have been withdrawn since, or its night is over."""
_FITS: Final[dict[MessageKind, GateState]] = {
    MessageKind.RELEASED: GateState.RELEASED,
    MessageKind.MET_NOT_SIGNED: GateState.MET,
    MessageKind.SIGN_OFF_WANTED: GateState.MET,
}
_IN_DOUBT: Final = frozenset({DeliveryState.WAITING, DeliveryState.UNSURE})
_SENDABLE: Final = frozenset({DeliveryState.QUEUED, DeliveryState.WAITING})


@dataclass(frozen=True, slots=True)
class Go:
    """Call the transport now."""


@dataclass(frozen=True, slots=True)
class Supersede:
    """No longer true: never send it."""

    why: str


@dataclass(frozen=True, slots=True)
class Wait:
    """Not now; `until_ms` is set when asking again earlier is of no use."""

    until_ms: Ms | None = None


Permission: TypeAlias = Go | Supersede | Wait


def _gate_allows(due: Due, gate: Gate, now: Ms) -> Permission:
    message = due.message
    if gate.epoch != message.epoch:
        return Supersede("another release or withdrawal has come since")
    if not (message.valid_until_ms is not None and now < message.valid_until_ms):
        return Supersede("its validity is over")
    wanted = _FITS[message.kind]
    if gate.state is wanted:
        return Go()
    if gate.state is GateState.SUSPENDED and gate.before is wanted:
        # In doubt is not "no longer true": it goes after the doubt is lifted, or expires.
        return Wait(now + _DOUBT_MS)
    return Supersede(f'the gate is "{gate.state}"')


def fence(due: Due, now: Ms) -> Permission:
    """Return whether what the message says is still so: what permits something against its gate, a list by its age."""
    stands_ms = _STANDS_MS.get(due.message.kind)
    if stands_ms is not None and not now - due.message.at_ms < stands_ms:
        return Supersede("too old a list of what stands")
    if due.message.kind not in PERMITS:
        return Go()
    if due.gate is None:
        return Supersede("its gate is gone")
    return _gate_allows(due, due.gate, now)


def may_go(due: Due, now: Ms) -> Permission:
    """Return whether the delivery may be claimed now. Serial per (recipient, channel): a busy one waits."""
    delivery = due.delivery
    repeats = delivery.state is DeliveryState.ACCEPTED and due.message.kind in INSISTENT
    if not (repeats or delivery.state in _SENDABLE):
        return Wait()
    permission = fence(due, now)
    if not isinstance(permission, Go):
        return permission
    if due.kept_off and due.message.kind in PERMITS and due.message.subject != STRIP:
        return Wait(now + _DOUBT_MS)
    match standing(due.message, inhibited=due.inhibited, silenced=due.silenced):
        case Lesser.VOID:
            return Supersede("a withdrawal or a freeze of its pour is open, or its start was taken back")
        case Lesser.WAITS:
            return Wait(now + _DOUBT_MS)
    if due.busy or not (delivery.next_ms <= now):
        return Wait()
    return Go()


def delay_ms(kind: MessageKind, attempt: int) -> Ms | None:
    """Return how long after the given attempt (1, 2, ...) the next one follows; None: that was the last."""
    if kind in INSISTENT:
        return _QUICK_MS if attempt < _QUICK_ATTEMPTS else REPEAT_MS
    return _DELAYS_MS[attempt - 1] if 1 <= attempt <= len(_DELAYS_MS) else None


def step(due: Due, event: DeliveryEvent, now: Ms, *, outcome: str = "") -> Delivery:
    """Return the delivery after an event; `KeyError` for a pair that is not in the table."""
    was = due.delivery
    kind = due.message.kind
    state = TRANSITIONS[was.state, event]
    if event is DeliveryEvent.OVERTAKEN:
        was = replace(was, was_accepted=False, accepted_ms=None)
        if was.state is DeliveryState.CALLING:
            return replace(was, again=True)
        if was.state in _IN_DOUBT:
            return was
        return replace(was, state=state, next_ms=now, was_unsure=True, outcome=outcome)
    after = replace(was, state=state, lease_until_ms=None, lease_token=None, again=False, outcome=outcome)
    delay = delay_ms(kind, was.attempt) or 0
    match event:
        case DeliveryEvent.ACCEPTED:
            first_ms = now if was.accepted_ms is None else was.accepted_ms
            return replace(after, next_ms=now + REPEAT_MS, was_accepted=True, accepted_ms=first_ms)
        case DeliveryEvent.ACCEPTED_TOO_SOON:
            return replace(after, next_ms=now, was_unsure=True)
        case DeliveryEvent.NOT_ACCEPTED:
            return replace(after, next_ms=now + delay)
        case DeliveryEvent.LOST:
            return replace(after, next_ms=now, was_unsure=True)
        case DeliveryEvent.RETRIED:
            # Counted from the call, so that a crash or a hanging server does not add to the wait.
            return replace(after, next_ms=max(now, (was.called_ms or now) + delay), outcome=was.outcome)
        case _:
            return after


def claim(due: Due, now: Ms, *, token: str, lease_ms: Ms) -> Delivery:
    """Return the delivery in `calling`, to be committed before the transport is called."""
    was = due.delivery
    return replace(
        step(due, DeliveryEvent.CLAIMED, now),
        attempt=was.attempt + 1,
        called_ms=now,
        lease_until_ms=now + lease_ms,
        lease_token=token,
        was_unsure=was.was_unsure or was.state is DeliveryState.ACCEPTED,
    )


def answered(due: Due, outcome: Outcome, token: str | None, now: Ms) -> Delivery:
    """Return the delivery after the transport's answer; the answer of another lease changes nothing."""
    was = due.delivery
    if was.state is not DeliveryState.CALLING or was.lease_token != token:
        return was
    return step(due, _event(due, outcome.kind), now, outcome=outcome.text)


def _event(due: Due, kind: OutcomeKind) -> DeliveryEvent:
    insistent = due.message.kind in INSISTENT
    match kind:
        case OutcomeKind.ACCEPTED:
            return DeliveryEvent.ACCEPTED_TOO_SOON if due.delivery.again else DeliveryEvent.ACCEPTED
        case OutcomeKind.UNSURE:
            return DeliveryEvent.LOST
        case OutcomeKind.NEVER if not insistent:
            return DeliveryEvent.REFUSED
        case _:
            # A withdrawal that was refused for good is tried on: nobody else has been told in its place.
            spent = delay_ms(due.message.kind, due.delivery.attempt) is None
            return DeliveryEvent.SPENT if spent else DeliveryEvent.NOT_ACCEPTED


def lost(due: Due, now: Ms, why: str) -> Delivery:
    """Return the delivery after its caller died: it may have arrived."""
    return step(due, DeliveryEvent.LOST, now, outcome=why)


def resolved(due: Due, now: Ms) -> Delivery | None:
    """Return what becomes of an unsure delivery, or None while its gate is in doubt."""
    permission = fence(due, now)
    if isinstance(permission, Supersede):
        return step(due, DeliveryEvent.VOIDED, now, outcome=permission.why)
    if isinstance(permission, Wait):
        return None
    spent = delay_ms(due.message.kind, due.delivery.attempt) is None
    if spent:
        return step(due, DeliveryEvent.SPENT, now, outcome=due.delivery.outcome)
    return step(due, DeliveryEvent.RETRIED, now)


def overtaken(release: Due, withdrawals: Sequence[Due], now: Ms) -> tuple[Delivery, ...]:
    """Return the withdrawal rows that must go (once more) because a release got out, or may have, after them.

    Rows that are still to go follow the release anyway; but a repeat among them must not be confirmed before it went.
    """
    if release.message.kind not in PERMITS:
        return ()
    if release.delivery.state not in {DeliveryState.ACCEPTED, DeliveryState.UNSURE}:
        return ()
    return tuple(
        step(due, DeliveryEvent.OVERTAKEN, now, outcome="a release may have come after it")
        for due in withdrawals
        if due.message.epoch >= release.message.epoch
        and (due.delivery.state, DeliveryEvent.OVERTAKEN) in TRANSITIONS
        and (due.delivery.was_accepted or due.delivery.state not in _IN_DOUBT)
    )
