"""Requirements for other software: what stands and stood, what a new one would change, and writing one."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Annotated, Any

from fastapi import Response
from pydantic import BaseModel, Field, StringConstraints

from cure.dashboard import api_models as m
from cure.dashboard import api_views as views
from cure.dashboard.api_door import ApiParts, Caller, CallerIn, ProblemError
from cure.dashboard.api_paging import After, Limit, cursor_of, number_of
from cure.dashboard.api_writes import Key, once, prove
from cure.dashboard.faults import line_said
from cure.dashboard.requirement_pages import seen_of
from cure.dashboard.rule_lines import LineError, line_of, requirement_from
from cure.dashboard.rule_words import said as in_words
from cure.dashboard.rules import API
from cure.plans import in_force
from cure.requirement_preview import Previewed
from shared.models import acts
from shared.models.base import Id, Json, Line, OperationName
from shared.models.people import Role
from shared.models.requirement import DESK, AllRule
from shared.requirement_checks import why_nobody_could

RuleLine = Annotated[str, StringConstraints(min_length=1, max_length=2000, pattern=r"^[^\r\n]*$")]


class RequirementAnswer(BaseModel):
    """What an operation of a bay needs."""

    bay: str
    operation: str
    needs: str
    """In words."""
    lines: list[str]
    """A rule each, as `requirements/preview` takes them."""
    signed_by: list[str]
    each_signs: bool
    version: str
    """Where it is from."""


class WrittenAnswer(BaseModel):
    """A requirement that was written on the site book."""

    at: datetime
    who: str
    second_person: str
    why: str
    bay: str | None
    """Null: every bay."""
    operation: str
    needs: str


class Wished(BaseModel):
    """A requirement as it is to be."""

    operation: OperationName
    needs: Annotated[list[RuleLine], Field(min_length=1, max_length=40)]
    """A rule each: `counted_h = 24.0, at_c = 5.0`, as in a site file."""
    bay: Id | None = None
    """Null: every bay."""
    signed_by: Annotated[list[Role], Field(max_length=3)] = []
    """Empty: as shipped."""
    each_signs: bool = False


class Signed(Wished, m.Proof):
    """A requirement as it is to be from now on."""

    second_person: Id
    why: Line
    seen: m.Digest
    """Of the preview: what would change by now must be what was seen."""


class ChangeAnswer(BaseModel):
    """What would become of an unfinished pour."""

    bay: str
    pour: str
    before: str | None
    """Null: the operation is a new one."""
    after: str
    own: bool
    """The bay has a requirement of its own, which stays."""
    missed: list[m.FindingAnswer]


class PreviewAnswer(BaseModel):
    """What would change. Nothing is written down."""

    needs: str
    changes: list[ChangeAnswer]
    seen: str
    """By which this is known again when it is signed."""
    caution: str


def requirements(api: ApiParts) -> dict[tuple[str, str], Callable[..., Any]]:
    """Return what answers which route."""
    parts = api.parts

    def standing(caller: CallerIn) -> m.Page[RequirementAnswer]:
        """What each operation of each bay needs now, and who signs it."""
        found = [
            RequirementAnswer(
                bay=bay.id,
                operation=operation,
                needs=in_words(force.rule, caller.reader),
                lines=[line_of(rule) for rule in force.requirement.all],
                signed_by=list(force.signed_by),
                each_signs=force.requirement.each_signs,
                version=force.version,
            )
            for bay in caller.site.bay
            for operation, force in in_force(caller.site, parts.board.edits(bay.bay_id)).items()
        ]
        return m.Page[RequirementAnswer](items=found, next=None)

    def history(caller: CallerIn, cursor: After = None, limit: Limit = 100) -> m.Page[WrittenAnswer]:
        """Every requirement that was written on the site book, in order: nothing that was in force is lost."""
        begin = number_of(cursor) or 0
        written = [act for act in parts.board.acts_of("require") if isinstance(act, acts.Require)]
        found = [_written(act, caller) for act in written[begin : begin + limit]]
        more = cursor_of(begin + limit) if len(written) > begin + limit else None
        return m.Page[WrittenAnswer](items=found, next=more)

    def preview(caller: CallerIn, said: Wished) -> PreviewAnswer:
        """What a requirement would change for each unfinished pour. It changes nothing."""
        act = _act(said, caller, second_person=caller.person, why="-")
        changes = parts.preview(act)
        return PreviewAnswer(
            needs=in_words(AllRule(all=act.requirement.all), caller.reader),
            changes=[_change(one, caller) for one in changes],
            seen=seen_of(act, changes),
            caution=api.caution,
        )

    def sign(caller: CallerIn, said: Signed, key: Key) -> Response:
        """Write a requirement, bound to what it was seen to change; takes password and a new code."""

        def carry_out() -> Json:
            act = _act(said, caller, second_person=said.second_person, why=said.why)
            if seen_of(act, parts.preview(act)) != said.seen:
                raise ProblemError(409, "what it would change is not what was seen: look at the preview again")
            # Last, so that no code is used up for nothing.
            prove(api, caller, said.password, said.code)
            parts.apply(act)
            return acts.act_to(act)

        asked = said.model_dump(mode="json", exclude={"password", "code"})
        return once(api, caller, key, {"act": "require", **asked}, carry_out)

    return {
        ("GET", f"{API}/requirements"): standing,
        ("GET", f"{API}/requirements/history"): history,
        ("POST", f"{API}/requirements/preview"): preview,
        ("POST", f"{API}/requirements"): sign,
    }


def _act(said: Wished, caller: Caller, *, second_person: str, why: str) -> acts.Require:
    """Return what is to be written. Raises `ProblemError`, with the line at fault."""
    roles = [role for role in said.signed_by if role in DESK]
    try:
        made = requirement_from(said.operation, "\n".join(said.needs), roles, each_signs=said.each_signs)
    except LineError as error:
        raise ProblemError(422, line_said(error, caller.reader)) from error
    if len(roles) < len(said.signed_by):
        raise ProblemError(422, f"signed_by: of {', '.join(DESK)}")
    if said.bay is not None and said.bay not in views.bays(caller.site):
        raise ProblemError(422, f"there is no bay {said.bay} in the site file")
    if (cause := why_nobody_could(caller.site, made)) is not None:
        raise ProblemError(422, f"nobody could ever sign it: {cause}")
    at = acts.instant(caller.now)
    return acts.Require(at=at, who=caller.person, requirement=made, bay=said.bay, second_person=second_person, why=why)


def _change(one: Previewed, caller: Caller) -> ChangeAnswer:
    return ChangeAnswer(
        bay=one.bay,
        pour=one.pour,
        before=None if one.before is None else one.before.value,
        after=one.after.value,
        own=one.own,
        missed=[views.finding_answer(finding, caller.reader) for finding in one.missed],
    )


def _written(act: acts.Require, caller: Caller) -> WrittenAnswer:
    return WrittenAnswer(
        at=views.hour(act.at_ms, caller.site),
        who=act.who,
        second_person=act.second_person,
        why=act.why,
        bay=act.bay,
        operation=act.requirement.operation,
        needs=in_words(AllRule(all=act.requirement.all), caller.reader),
    )
