"""One round at one pour, being worked out: what the steps of `assess` and `press` share. Values in, values out."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from functools import cached_property
from typing import Any, Final

from cure.bay import BayEvidence
from cure.chart import chart
from cure.cold_ahead import ColdAhead
from cure.foretold import Foretold
from cure.gate import GateEvent, step
from cure.plans import InForce
from cure.verification import Verified
from shared.models.base import MINUTE_MS, STRIP, Json, Ms, Operation
from shared.models.decisions import Finding, Gate, GateState, Hold, HoldKind, LogEntry, Stripped, Verdict
from shared.models.messages import PERMITS, MessageKind, NewMessage
from shared.models.requirement import AllRule
from shared.ports import PourCase
from shared.shifts import next_to_begin

CODE_VERSION: Final = "0.1.0"
"""Part of every snapshot: which code judged."""
SYSTEM: Final = "slabhour"
"""Who did it, when no person did."""
SLACK_MS: Final = MINUTE_MS
"""By how much checked elapsed time may fall short before it is worth a word."""
OPEN_STATES: Final = frozenset({GateState.RELEASED, GateState.UNDER_WAY, GateState.DONE})
"""In any other an operation is named as not released."""
CHARTED: Final = frozenset(
    {MessageKind.RELEASED, MessageKind.SIGN_OFF_WANTED, MessageKind.COLD_DELAY, MessageKind.WITHDRAWAL}
)
"""Kinds whose message carries the pour's course."""


@dataclass(frozen=True, slots=True)
class ForeseenHours:
    """By when an operation's requirement is met, by the forecast. None: not within its horizon."""

    even_ms: Ms | None
    """With a chance of one half."""
    cautious_ms: Ms | None
    """With a chance of nine in ten."""
    early_ms: Ms | None = None
    """With a chance of one in ten."""
    levels_ms: tuple[Ms, ...] = ()
    """With a chance of 1, 2, ... %; those that lie within the horizon."""
    waits_for: Mapping[str, float] = field(default_factory=dict)
    """Share of what may come in which each comes last: clock hours, cold hours, strength."""
    spread: Mapping[str, float] = field(default_factory=dict)
    """Share of the width that each explains: weather, heat model, mix."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What the service knows about itself in a round."""

    doubts: tuple[str, ...] = ()
    """Why every gate is suspended: clock, store, log."""
    elapsed_ms: int | None = None
    """Time that really passed since the pour's end, by the service's own checked clock; None: there is no end yet."""
    foreseen: Mapping[Operation, ForeseenHours] = field(default_factory=dict)
    """Expected hours, to be told. An absent one is expected by comparison."""
    cold_ahead: ColdAhead | None = None
    """How cold the concrete is foreseen to be, to be told; None: nothing is foreseen."""
    stripped: Stripped | None = None
    """What taking the forms off now would do; None: it is warm ahead, or nothing is foreseen."""
    foretold: Foretold = field(default_factory=Foretold)
    """What is told beside the expected hours."""
    full: bool = False
    """Whether the disk is full, so that no reading is taken."""

    def room(self) -> tuple[Finding, ...]:
        """Return what shuts every gate while no reading is taken: at once, not when the newest has become too old.

        Nothing of what was released is taken back: a full disk makes no concrete weaker.
        """
        return (Finding("room on the service's disk", "none", None, "", met=False, lasting=False),) * self.full


@dataclass
class Work:
    """A round in the making."""

    case: PourCase
    evidence: BayEvidence
    now_ms: Ms
    gates: dict[Operation, Gate]
    holds: dict[HoldKind, Hold]
    memory: dict[str, Any]
    in_force: Mapping[Operation, InForce]
    """The requirement of each operation."""
    standing: Standing
    whole: BayEvidence | None = None
    """What the readings say if all the hours of the wall clock have passed: what contradicts a release is read in
    that, since less evidence contradicts nothing. None: `evidence`."""
    verified: Verified = field(default_factory=Verified)
    """How the mix's calibration stands by later cylinders; the case holds it lowered, or not at all."""
    verdicts: dict[Operation, Verdict] = field(default_factory=dict)
    messages: list[NewMessage] = field(default_factory=list)
    log: list[LogEntry] = field(default_factory=list)
    snapshots: dict[str, Json] = field(default_factory=dict)
    wake: set[str] = field(default_factory=set)

    @cached_property
    def plan(self) -> Mapping[Operation, AllRule]:
        """What must be met for each operation."""
        return {operation: force.rule for operation, force in self.in_force.items()}

    @cached_property
    def capped(self) -> bool:
        """Whether readings of every required sensor are not credited because nobody vouches for their hours."""
        end_ms, elapsed_ms = self.case.pour.end_ms, self.standing.elapsed_ms
        newest = [int(s.raw.taken_ms[-1]) for s in self.evidence.sensors if s.placement.required and len(s.raw)]
        return end_ms is not None and bool(newest) and min(newest) > end_ms + (elapsed_ms or 0) + SLACK_MS

    def sentences(self, operation: Operation) -> list[str]:
        """Return the findings as everyone prints them."""
        verdict = self.verdicts.get(operation)
        return [] if verdict is None else [f.explain(self.case.site.site.units) for f in verdict.findings]

    def no_calibration(self) -> str:
        """Return why there is none to judge by."""
        mix, reason = self.case.mix.id, self.verified.suspended
        return f"no calibration of mix {mix}" if reason is None else f"the calibration of {mix} is suspended: {reason}"

    def take(self, operation: Operation, event: GateEvent, reason: str, who: str = SYSTEM) -> Gate:
        """Step a gate and write the step down."""
        before = self.gates[operation]
        after = step(before, event, self.now_ms, reason)
        self.gates[operation] = after
        body = {
            "pour": before.pour,
            "operation": operation,
            "from": before.state,
            "to": after.state,
            "epoch": after.epoch,
            "reason": reason,
            "evidence_ms": self.evidence.watermark_ms,
            "found": self.sentences(operation),
        }
        self.log.append(LogEntry(self.now_ms, who, "gate", body))
        if operation == STRIP and GateState.UNDER_WAY in {before.state, after.state}:
            self.wake.update(self.disturbed())
        return after

    def disturbed(self) -> list[str]:
        """Return the bays that a strip of this one disturbs: neighbours, whoever names whom, and those above it."""
        bay = self.case.bay
        beside = {b.id for b in self.case.site.bay if bay.id in {*b.neighbours, *b.below}}
        return sorted({*bay.neighbours, *beside})

    def tell(
        self, kind: MessageKind, subject: str, epoch: int, facts: Mapping[str, Json], *, operation: str = ""
    ) -> None:
        """Write a message: facts only; the words are for others."""
        site = self.case.site.site
        permit = kind in PERMITS
        common = {
            "site": site.name,
            "site_id": site.id,
            "zone": site.zone,
            "units": site.units,
            "floor": self.case.bay.floor,
            "bay": self.case.bay.id,
            "pour": self.case.pour.id,
            "operation": operation,
            "exclusions": self.case.bay.exclusions,
            "hour_ms": self.now_ms,
            "findings": self.sentences(Operation(operation)),
            **self._judged_by(Operation(operation)),
        }
        if kind in CHARTED:
            common["chart"] = chart(self.evidence, self.plan.get(Operation(operation)))
        until = next_to_begin(self.now_ms, site.shift, site.zone).ends_ms if permit else None
        self.messages.append(
            NewMessage(kind, self.case.pour.id, subject, epoch, self.now_ms, until, {**common, **facts})
        )

    def _judged_by(self, operation: Operation) -> dict[str, Json]:
        force = self.in_force.get(operation)
        if force is None:
            return {}
        snapshot = self.gates[operation].snapshot
        return {"requirement": str(force), "requirement_version": force.version, "snapshot": snapshot}

    def people(self, owner: str) -> list[str]:
        """Return who owns what a role owns."""
        return [person.id for person in self.case.site.recipient if person.role == owner]

    def told(self) -> tuple[NewMessage, ...]:
        """Return the messages, each with the operations that are not released once the whole round is over."""
        shut = [op for op, g in self.gates.items() if g.state not in OPEN_STATES]
        return tuple(replace(m, facts={**m.facts, "not_released": shut}) for m in self.messages)

    def open_hold(self, kind: HoldKind, owner: str, reason: str, how: str) -> None:
        """Raise a doubt once, and tell it."""
        if kind in self.holds:
            return
        self.holds[kind] = Hold(kind, self.now_ms, owner, reason, how)
        self.memory["holds"] = int(self.memory.get("holds", 0)) + 1
        body = {"pour": self.case.pour.id, "hold": kind, "event": "opened", "reason": reason}
        self.log.append(LogEntry(self.now_ms, SYSTEM, "hold", body))
        told_as = {
            HoldKind.FREEZE_SUSPECTED: MessageKind.FREEZE_SUSPECTED,
            HoldKind.FREEZE_LOCKED: MessageKind.FREEZE_LOCKED,
        }.get(kind, MessageKind.HOLD)
        facts = {"hold": kind, "reason": reason, "owner": owner, "how": how, "owner_people": self.people(owner)}
        self.tell(told_as, "", int(self.memory["holds"]), facts)

    def lift_hold(self, kind: HoldKind, who: str, reason: str) -> None:
        """Take a doubt away by a person's act."""
        del self.holds[kind]
        body = {"pour": self.case.pour.id, "hold": kind, "event": "lifted", "reason": reason}
        self.log.append(LogEntry(self.now_ms, who, "hold", body))

    def keep_evidence(self, operation: Operation) -> None:
        """Write down what the gate's state rests on; the gate carries its digest."""
        calibration = self.case.calibration
        body = {
            "code": CODE_VERSION,
            "pour": self.case.pour.id,
            "operation": operation,
            "plan": self.case.site.plan.model_dump(mode="json"),
            "requirement": str(self.in_force[operation]),
            "requirement_version": self.in_force[operation].version,
            "mix": self.case.mix.model_dump(mode="json"),
            "calibration": None if calibration is None else calibration.model_dump(mode="json"),
            "verified": {"sets": len(self.verified.sets), "ratio": self.verified.ratio},
            "own_cylinders": _known(asdict(self.verified.own)),
            "evidence_ms": self.evidence.watermark_ms,
            "end_ms": self.case.pour.end_ms,
            "readings": readings_digests(self.evidence, self.evidence.watermark_ms or 0),
            "in_place_of": {
                s.placement.sensor: list(s.stood_in.by) for s in self.evidence.sensors if len(s.stood_in.series)
            },
            "by_hand": [asdict(one) for one in self.case.by_hand],
            "error_budget_mpa": dict(self.evidence.estimate(()).error_budget_mpa),
            "findings": self.sentences(operation),
            # Only where there are any: what rests on none is kept as it always was.
            **({"tickets": self.memory["tickets"]} if self.memory.get("tickets") else {}),
        }
        text = json.dumps(body, sort_keys=True, allow_nan=False)
        digest = hashlib.sha256(text.encode()).hexdigest()
        self.snapshots[digest] = json.loads(text)
        self.gates[operation] = replace(self.gates[operation], snapshot=digest)


def _known(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return values for JSON, which has no NaN."""
    return {k: None if isinstance(v, float) and not math.isfinite(v) else v for k, v in values.items()}


def readings_digests(evidence: BayEvidence, through_ms: Ms) -> dict[str, str]:
    """Return the SHA-256 of what each concrete sensor said through an hour."""
    digests: dict[str, str] = {}
    for s in evidence.sensors:
        used = s.raw.taken_ms <= through_ms
        raw = s.raw.taken_ms[used].tobytes() + s.raw.milli_c[used].tobytes()
        digests[s.placement.sensor] = hashlib.sha256(raw).hexdigest()
    return digests


def why(verdict: Verdict) -> str:
    """Return the rules that are not met, as a reason without numbers: the same from run to run."""
    return "; ".join(f.rule for f in verdict.failed()) or "requirement met"
