"""Rows of the site book to values and back."""

from __future__ import annotations

from typing import Any

from sqlalchemy import RowMapping

from shared.models.base import BayId, LoggerId, MixId, Operation, PourId, RecipientId, SensorId
from shared.models.decisions import Gate, GateState, Hold, HoldKind, Placement, Pour, PourState
from shared.models.messages import Delivery, DeliveryState, Message, MessageKind
from shared.models.readings import Arrival, Conflict, Heard, Reason, Refusal, Refused
from shared.models.setup import Zone
from shared.store.codec import canonical, estimate_from, estimate_to, parsed, signers_from, verdicts_from, verdicts_to


def pour_from(row: RowMapping) -> Pour:
    """Return the pour of a row."""
    return Pour(
        id=PourId(row["id"]),
        bay=BayId(row["bay"]),
        mix=MixId(row["mix"]),
        start_ms=row["start_ms"],
        end_ms=row["end_ms"],
        closed_ms=row["closed_ms"],
        calibration_version=row["calibration_version"],
    )


def pour_to(pour: Pour) -> dict[str, Any]:
    """Return the row of a pour, but for `touched`."""
    return {
        "id": pour.id,
        "bay": pour.bay,
        "mix": pour.mix,
        "start_ms": pour.start_ms,
        "end_ms": pour.end_ms,
        "closed_ms": pour.closed_ms,
        "calibration_version": pour.calibration_version,
    }


def placement_from(row: RowMapping) -> Placement:
    """Return the placement of a row."""
    return Placement(
        sensor=SensorId(row["sensor"]),
        bay=BayId(row["bay"]),
        zone=Zone(row["zone"]),
        depth_mm=row["depth_mm"],
        interval_s=row["interval_s"],
        required=bool(row["required"]),
        from_ms=row["from_ms"],
        to_ms=row["to_ms"],
        position=row["position"],
        by=row["who"],
    )


def placement_to(placement: Placement) -> dict[str, Any]:
    """Return the row of a placement."""
    return {
        "sensor": placement.sensor,
        "bay": placement.bay,
        "zone": placement.zone.value,
        "depth_mm": placement.depth_mm,
        "interval_s": placement.interval_s,
        "required": int(placement.required),
        "from_ms": placement.from_ms,
        "to_ms": placement.to_ms,
        "position": placement.position,
        "who": placement.by,
    }


def state_from(row: RowMapping) -> PourState:
    """Return the pour state of a row."""
    return PourState(
        as_of_ms=row["as_of_ms"],
        input_revision=row["input_revision"],
        next_due_ms=row["next_due_ms"],
        code=row["code"],
        estimate=estimate_from(row["estimate"]),
        verdicts=verdicts_from(row["verdicts"]),
        memory=parsed(row["memory"]),
    )


def state_to(state: PourState) -> dict[str, Any]:
    """Return the row of a pour state, but for the pour."""
    return {
        "as_of_ms": state.as_of_ms,
        "input_revision": state.input_revision,
        "next_due_ms": state.next_due_ms,
        "code": state.code,
        "estimate": estimate_to(state.estimate),
        "verdicts": verdicts_to(state.verdicts),
        "memory": canonical(dict(state.memory)),
    }


def gate_from(row: RowMapping) -> Gate:
    """Return the gate of a row."""
    before = row["before"]
    return Gate(
        pour=PourId(row["pour"]),
        operation=Operation(row["operation"]),
        state=GateState(row["state"]),
        epoch=row["epoch"],
        changed_ms=row["changed_ms"],
        reason=row["reason"],
        steady_from_ms=row["steady_from_ms"],
        snapshot=row["snapshot"],
        signers=signers_from(row["signers"]),
        before=None if before is None else GateState(before),
    )


def gate_to(gate: Gate) -> dict[str, Any]:
    """Return the row of a gate."""
    return {
        "pour": gate.pour,
        "operation": gate.operation,
        "state": gate.state.value,
        "epoch": gate.epoch,
        "changed_ms": gate.changed_ms,
        "reason": gate.reason,
        "steady_from_ms": gate.steady_from_ms,
        "snapshot": gate.snapshot,
        "signers": canonical(list(gate.signers)),
        "before": None if gate.before is None else gate.before.value,
    }


def hold_from(row: RowMapping) -> Hold:
    """Return the hold of a row."""
    return Hold(HoldKind(row["kind"]), row["since_ms"], row["owner"], row["reason"], row["how"])


def hold_to(pour: PourId, hold: Hold) -> dict[str, Any]:
    """Return the row of a hold."""
    return {
        "pour": pour,
        "kind": hold.kind.value,
        "since_ms": hold.since_ms,
        "owner": hold.owner,
        "reason": hold.reason,
        "how": hold.how,
    }


def arrival_from(row: RowMapping) -> Arrival:
    """Return the arrival of a row."""
    newest = row["newest_ms"], row["newest_received_ms"]
    return Arrival(SensorId(row["sensor"]), row["revision"], *newest, rewritten=row["rewritten"])


def heard_from(row: RowMapping) -> Heard:
    """Return what a logger said of itself."""
    return Heard(
        LoggerId(row["logger"]),
        row["heard_ms"],
        row["boot"],
        row["sequence"],
        row["battery_percent"],
        row["signal_db"],
    )


def conflict_from(row: RowMapping) -> Conflict:
    """Return the conflict of a row."""
    return Conflict(
        SensorId(row["sensor"]), row["taken_ms"], row["kept_milli_c"], row["other_milli_c"], row["received_ms"]
    )


def refused_from(row: RowMapping) -> Refused:
    """Return the refusal of a row."""
    sensor = row["sensor"]
    return Refused(
        received_ms=row["received_ms"],
        topic=row["topic"],
        payload=row["payload"],
        reason=Reason(row["reason"]),
        detail=row["detail"],
        sensor=None if sensor is None else SensorId(sensor),
        taken_ms=row["taken_ms"],
    )


def refusal_from(row: RowMapping) -> Refusal:
    """Return the refusal of a row joined with its decision."""
    return Refusal(row["no"], refused_from(row), row["at_ms"], row["outcome"] or "")


def message_from(row: RowMapping) -> Message:
    """Return the message of a row."""
    return Message(
        no=row["no"],
        kind=MessageKind(row["kind"]),
        pour=PourId(row["pour"]),
        subject=row["subject"],
        epoch=row["epoch"],
        at_ms=row["at_ms"],
        valid_until_ms=row["valid_until_ms"],
        facts=parsed(row["facts"]),
        log_seq=row["log_seq"],
        log_hash=row["log_hash"],
    )


def delivery_from(row: RowMapping) -> Delivery:
    """Return the delivery of a row."""
    return Delivery(
        no=row["no"],
        message=row["message"],
        recipient=RecipientId(row["recipient"]),
        channel=row["channel"],
        state=DeliveryState(row["state"]),
        attempt=row["attempt"],
        next_ms=row["next_ms"],
        lease_until_ms=row["lease_until_ms"],
        lease_token=row["lease_token"],
        called_ms=row["called_ms"],
        outcome=row["outcome"],
        was_unsure=bool(row["was_unsure"]),
        again=bool(row["again"]),
        accepted_ms=row["accepted_ms"],
        was_accepted=bool(row["was_accepted"]),
    )


def delivery_to(delivery: Delivery) -> dict[str, Any]:
    """Return the row of a delivery, but for its number."""
    return {
        "message": delivery.message,
        "recipient": delivery.recipient,
        "channel": delivery.channel,
        "state": delivery.state.value,
        "attempt": delivery.attempt,
        "next_ms": delivery.next_ms,
        "lease_until_ms": delivery.lease_until_ms,
        "lease_token": delivery.lease_token,
        "called_ms": delivery.called_ms,
        "outcome": delivery.outcome,
        "was_unsure": int(delivery.was_unsure),
        "again": int(delivery.again),
        "accepted_ms": delivery.accepted_ms,
        "was_accepted": int(delivery.was_accepted),
    }
