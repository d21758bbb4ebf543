"""One bay: its three answers in full, why, what is not released, and where the evidence comes from. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from cure.dashboard.board import Cell, cell, in_order, is_stopped
from cure.dashboard.expected import expected_words
from cure.dashboard.foretold import ForetoldView, foretold
from cure.dashboard.reader import Reader
from cure.entered import CHECK
from cure.work import OPEN_STATES
from shared.models.base import LOAD, Ms, Operation
from shared.models.decisions import GateState, Hold
from shared.models.estimate import Estimate
from shared.models.setup import BaySettings, SiteFile
from shared.ports import BoardRow

S: Final = GateState


@dataclass(frozen=True, slots=True)
class Answer:
    """One operation in full."""

    cell: Cell
    findings: tuple[tuple[bool, str], ...]
    """Met or not, and the sentence."""
    missing: tuple[str, ...]
    limits: tuple[str, ...]
    """What the release does not hold for."""
    signers: tuple[str, ...]
    moved: bool
    """Whether it was signed on findings that are not all met now; those that count later withdraw it, these do not."""
    expected: str
    """By when it may be met; "": nobody knows, or it is not waited for."""
    next: str
    """The tap that follows: "under-way", "done" or ""."""


@dataclass(frozen=True, slots=True)
class BayView:
    """One bay with its open pour, if it has one."""

    bay: BaySettings
    pour: str
    placed: str
    answers: tuple[Answer, ...]
    not_released: str
    holds: tuple[tuple[str, str], ...]
    """The doubt with its owner, and how it is lifted."""
    facts: tuple[tuple[str, str], ...]
    stopped: bool
    """Whether nobody looks at the evidence any more."""
    forecast: ForetoldView = field(default_factory=ForetoldView)
    """What is foreseen of it. Expected, not released."""


def bay_view(
    bay: BaySettings, row: BoardRow | None, site: SiteFile, now_ms: Ms, reader: Reader, *, doubted: bool
) -> BayView:
    """Return one bay as its page shows it; `doubted`: the service itself is in doubt."""
    if row is None:
        return BayView(bay, "", reader.say("no-pour-here"), (), "", (), (), stopped=False)
    stopped = is_stopped(row, site, now_ms, doubted=doubted)
    answers = tuple(_answer(bay, row, op, site, now_ms, reader, stopped=stopped) for op in in_order(row))
    shut = [reader.operation(op) for op in in_order(row) if row.gates[op].state not in OPEN_STATES or stopped]
    return BayView(
        bay=bay,
        pour=row.pour.id,
        placed=_placed(row, reader),
        answers=answers,
        not_released=", ".join(shut) or reader.say("none"),
        holds=tuple(hold_lines(h, reader) for h in row.holds),
        facts=_facts(row.state.estimate, reader),
        stopped=stopped,
        forecast=foretold(row, now_ms, reader, stopped=stopped),
    )


def waits_for_check(site: SiteFile, row: BoardRow | None) -> bool:
    """Return whether a pour waits for its second person's check."""
    if not site.plan.second_check or row is None or row.pour.end_ms is None:
        return False
    return not any(f.met for v in row.state.verdicts for f in v.findings if f.rule == CHECK)


def _placed(row: BoardRow, reader: Reader) -> str:
    start = reader.whole_hour(row.pour.start_ms)
    if row.pour.end_ms is None:
        return reader.say("placed-since", start=start)
    return reader.say("placed", start=start, end=reader.whole_hour(row.pour.end_ms))


def _answer(
    bay: BaySettings, row: BoardRow, op: Operation, site: SiteFile, now_ms: Ms, reader: Reader, *, stopped: bool
) -> Answer:
    gate = row.gates[op]
    verdict = next((v for v in row.state.verdicts if v.operation == op), None)
    shown = cell(row, op, site, now_ms, reader, stopped=stopped)
    going = shown.fill == "released"
    following = {S.RELEASED: "under-way", S.UNDER_WAY: "done"}.get(gate.state, "") if going else ""
    if gate.state is S.MET and site.plan.sign_offs == 0 and not stopped and shown.fill == "met":
        following = "under-way"
    return Answer(
        cell=shown,
        findings=() if verdict is None else tuple((f.met, reader.finding(f)) for f in verdict.findings),
        missing=() if verdict is None else tuple(map(reader.known, verdict.missing)),
        limits=limits(bay, op, reader) if gate.state in {S.MET, S.RELEASED, S.UNDER_WAY} else (),
        signers=gate.signers,
        moved=gate.state in OPEN_STATES and verdict is not None and not all(f.met for f in verdict.findings),
        expected=expected_words(row, op, now_ms, reader, stopped=stopped) if gate.state is S.CURING else "",
        next=following,
    )


def limits(bay: BaySettings, operation: Operation, reader: Reader) -> tuple[str, ...]:
    """Return what the release of an operation does not permit."""
    excluded = [reader.say("excluded", where=reader.known(bay.exclusions))]
    if operation == LOAD:
        kpa = reader.number(bay.construction_load_kpa, "kPa")
        return (*excluded, reader.say("limit-load", load=kpa))
    return (*excluded, reader.worded("limit", operation))


def hold_lines(hold: Hold, reader: Reader) -> tuple[str, str]:
    """Return a hold with its owner, and how it is lifted."""
    owner = reader.say(f"role-{hold.owner}") if reader.voice.has(f"role-{hold.owner}") else hold.owner
    since = reader.whole_hour(hold.since_ms)
    said = reader.say("hold-line", reason=reader.known(hold.reason), owner=owner, since=since)
    return said, reader.say("hold-how", how=reader.known(hold.how))


def _facts(estimate: Estimate | None, reader: Reader) -> tuple[tuple[str, str], ...]:
    if estimate is None:
        return ((reader.say("evidence"), reader.say("not-looked-at")),)
    e = estimate
    evidence = reader.say("no-reading") if e.evidence_ms is None else reader.whole_hour(e.evidence_ms)
    age = reader.say("end-not-entered") if e.age_h is None else reader.number(e.age_h, "h")
    counted = [
        reader.say("counted-at", hours=reader.number(h, "h"), limit=reader.number(float(c), "degC", limit=True))
        for c, h in e.counted_h.items()
    ]
    return (
        (reader.say("evidence-to"), evidence),
        (reader.say("fact-age"), age),
        (reader.say("fact-bound"), reader.number(e.lower_bound_mpa, "MPa")),
        (reader.say("fact-estimate"), reader.number(e.strength_mpa, "MPa")),
        *_budget(e, reader),
        (reader.say("fact-coldest"), reader.number(e.coldest_c, "degC")),
        *(((reader.say("fact-counted"), "; ".join(counted)),) if counted else ()),
        *(((reader.say("fact-governing"), e.governing_sensor),) if e.governing_sensor is not None else ()),
    )


def _budget(estimate: Estimate, reader: Reader) -> tuple[tuple[str, str], ...]:
    """Return what each source of error takes from the estimate, the largest first."""
    taken = sorted(estimate.error_budget_mpa.items(), key=lambda part: -part[1])
    parts = [f"{reader.say('budget-' + name.replace(' ', '-'))} {reader.number(mpa, 'MPa')}" for name, mpa in taken]
    return ((reader.say("fact-budget"), "; ".join(parts)),) if parts else ()
