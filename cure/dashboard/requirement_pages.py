"""Requirements: what each operation needs, what they were before; the engineer writes one and sees what it changes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Final

from starlette.responses import Response

from cure.dashboard.asked import Asked, Parts
from cure.dashboard.faults import line_said
from cure.dashboard.people_pages import prove
from cure.dashboard.rendering import page
from cure.dashboard.rule_lines import EXAMPLES, LineError, line_of, requirement_from
from cure.dashboard.rule_words import said
from cure.dashboard.rules import may
from cure.dashboard.signs import SIGNS
from cure.plans import InForce, in_force
from cure.requirement_preview import Previewed
from shared.errors import ActRefusedError
from shared.models.acts import Require, instant
from shared.models.base import Operation
from shared.models.people import Role
from shared.models.requirement import DESK, AllRule
from shared.requirement_checks import why_nobody_could

SIGN: Final = "/requirements"
TYPED: Final = ("operation", "bay", "needs", "why", "second_person")


@dataclass(frozen=True, slots=True)
class Standing:
    """One requirement in force, with the bays that it is in force for."""

    operation: str
    name: str
    needs: str
    signed_by: str
    version: str
    bays: tuple[str, ...]
    """Empty: every bay."""


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", SIGN): lambda asked: _page(parts, asked),
        ("POST", f"{SIGN}/preview"): lambda asked: _preview(parts, asked),
        ("POST", SIGN): lambda asked: _sign(parts, asked),
    }


def _in_force(parts: Parts, asked: Asked, bay: str) -> Mapping[Operation, InForce]:
    of = next(b for b in asked.site.bay if b.id == bay)
    return in_force(asked.site, parts.board.edits(of.bay_id))


def _standing(parts: Parts, asked: Asked) -> list[Standing]:
    found: dict[tuple[Operation, str], tuple[InForce, list[str]]] = {}
    for bay in asked.site.bay:
        for operation, force in _in_force(parts, asked, bay.id).items():
            found.setdefault((operation, force.version), (force, []))[1].append(bay.id)
    every, reader = len(asked.site.bay), asked.reader
    return [
        Standing(
            operation,
            reader.operation(operation),
            said(force.rule, reader),
            ", ".join(reader.say(f"role-{role}") for role in force.signed_by),
            reader.known(version),
            () if len(bays) == every else tuple(bays),
        )
        for (operation, version), (force, bays) in found.items()
    ]


def _page(
    parts: Parts,
    asked: Asked,
    wrong: Sequence[str] = (),
    *,
    done: str = "",
    act: Require | None = None,
    changes: Sequence[Previewed] = (),
) -> Response:
    standing = _standing(parts, asked)
    typed = _typed(parts, asked)
    return page(
        asked,
        "requirements.html",
        status=422 if wrong else 200,
        wrong=list(wrong),
        done=done,
        adopted=asked.site.plan.adopted_by,
        standing=standing,
        history=_history(parts, asked),
        operations=list(dict.fromkeys(s.operation for s in standing)),
        bays=[bay.id for bay in asked.site.bay],
        typed=typed,
        signers=[(role.value, asked.reader.say(f"role-{role}")) for role in DESK],
        signed_by=asked.form.get("signed_by", ()),
        each=asked.one("each_signs"),
        seconds=[r.id for r in asked.site.recipient if r.role in DESK and r.id != asked.visitor.person],
        examples=[(line, said(rule, asked.reader)) for line, rule in EXAMPLES],
        may_write=may("POST", SIGN, asked.visitor.comer),
        needs="" if act is None else said(AllRule(all=act.requirement.all), asked.reader),
        changes=[] if act is None else [_change(asked, c, act.requirement.operation) for c in changes],
        seen="" if act is None else seen_of(act, changes),
    )


def _typed(parts: Parts, asked: Asked) -> dict[str, str]:
    """Return what stands in the form: what was typed, else the requirement that somebody wants to change."""
    typed = {name: asked.one(name) for name in TYPED}
    operation, bay = asked.query.get("operation", ""), asked.query.get("bay", "")
    if asked.method == "GET" and operation:
        of = bay if bay in {b.id for b in asked.site.bay} else asked.site.bay[0].id
        force = _in_force(parts, asked, of).get(Operation(operation))
        lines = "" if force is None else "\n".join(map(line_of, force.requirement.all))
        typed |= {"operation": operation, "bay": bay, "needs": lines}
    return typed


def _history(parts: Parts, asked: Asked) -> list[tuple[str, str, str]]:
    """Return every requirement that was written, the newest first: nothing that was in force is lost."""
    found = []
    for act in reversed(parts.board.acts_of("require")):
        if isinstance(act, Require):
            where = act.bay or asked.reader.say("every-bay")
            what = f"{asked.reader.operation(act.requirement.operation)}, {where}"
            who = asked.reader.say("written-by", who=act.who, second=act.second_person, why=act.why)
            needs = said(AllRule(all=act.requirement.all), asked.reader)
            found.append((f"{asked.reader.whole_hour(act.at_ms)}: {what}", needs, who))
    return found


def _change(asked: Asked, one: Previewed, operation: str) -> tuple[str, str, list[str]]:
    """Return a pour, what becomes of its gate, and what of the requirement is not met."""
    say = asked.reader.say
    before = say("change-new") if one.before is None else asked.reader.worded(SIGNS[one.before].word, operation)
    after = asked.reader.worded(SIGNS[one.after].word, operation)
    if one.own:
        became = say("change-own")
    elif before == after:
        became = say("change-stays", state=after)
    else:
        became = say("change-turns", before=before, after=after)
    return f"{one.bay}, {one.pour}", became, [asked.reader.finding(f) for f in one.missed]


def seen_of(act: Require, changes: Sequence[Previewed]) -> str:
    """Return what binds a signature to what was seen: the requirement, and what becomes of each pour."""
    seen = act.requirement.model_dump_json() + str(act.bay)
    seen += "".join(f"|{c.pour}|{c.before}|{c.after}|{c.own}" for c in changes)
    return sha256(seen.encode()).hexdigest()


def _written(asked: Asked) -> Require:
    """Return what was typed as an act. Raises `ActRefusedError`, with the line at fault."""
    roles = tuple(Role(role) for role in asked.form.get("signed_by", ()) if role in {r.value for r in DESK})
    each = asked.one("each_signs") == "yes"
    try:
        requirement = requirement_from(asked.one("operation"), asked.one("needs"), roles, each_signs=each)
    except LineError as error:
        raise ActRefusedError(line_said(error, asked.reader)) from error
    if not asked.one("why") or not asked.one("second_person"):
        raise ActRefusedError(asked.reader.say("calibrate-second"))
    bay = asked.one("bay") or None
    if bay is not None and bay not in {b.id for b in asked.site.bay}:
        raise ActRefusedError(asked.reader.say("no-bay"))
    if (cause := why_nobody_could(asked.site, requirement)) is not None:
        raise ActRefusedError(asked.reader.say("require-never", why=cause))
    return Require(
        at=instant(asked.now),
        who=str(asked.visitor.person),
        requirement=requirement,
        bay=bay,
        second_person=asked.one("second_person"),
        why=asked.one("why"),
    )


def _preview(parts: Parts, asked: Asked) -> Response:
    try:
        act = _written(asked)
    except ActRefusedError as error:
        return _page(parts, asked, [asked.reader.known(str(error))])
    return _page(parts, asked, act=act, changes=parts.preview(act))


def _sign(parts: Parts, asked: Asked) -> Response:
    try:
        act = _written(asked)
    except ActRefusedError as error:
        return _page(parts, asked, [asked.reader.known(str(error))])
    changes = parts.preview(act)
    try:
        if asked.one("seen") != seen_of(act, changes):
            raise ActRefusedError(asked.reader.say("require-moved"))
        prove(parts, asked)
        parts.apply(act)
    except ActRefusedError as error:
        return _page(parts, asked, [asked.reader.known(str(error))], act=act, changes=changes)
    name = asked.reader.operation(act.requirement.operation)
    return _page(parts, asked, done=asked.reader.say("require-done", what=name))
