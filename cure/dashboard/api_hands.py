"""What other software does that is bound to what was read: a shift taken over, a tick, a ticket, a doubt answered."""

# Without `from __future__ import annotations`: FastAPI reads the types that are made here.
from collections.abc import Callable
from typing import Annotated, Any, Literal

from fastapi import Response
from pydantic import Base64Bytes, Field, StringConstraints, create_model

from cure.dashboard.api_door import ApiParts, CallerIn, ProblemError
from cure.dashboard.api_views import bays
from cure.dashboard.api_writes import Key, given, once
from cure.dashboard.photos import MOST_BYTES, kind_of
from cure.dashboard.ready_pages import ticked
from cure.dashboard.rules import API
from cure.dashboard.shift_pages import sheet_of
from cure.dashboard.ticket_pages import hand_in
from cure.ticks import TICKS
from shared.errors import ActRefusedError
from shared.models import acts
from shared.models.acts_shift import SeenCode
from shared.models.base import BayId, Id, Json, Line, PourName, Record
from shared.models.decisions import HoldKind

Tick = Literal[*TICKS]  # type: ignore[valid-type]  # the list is the product's own
Picture = Annotated[
    Base64Bytes, Field(max_length=MOST_BYTES * 4 // 3 + 4, description="of the ticket: JPEG, PNG or WebP")
]


class TakeOverGiven(Record):
    """A shift is taken over by who has read its sheet."""

    seen: SeenCode
    """The sheet's code, of `shift`: one that has changed since cannot be taken over."""
    note: Line | None = None
    """What was said besides."""


class ReadyGiven(Record):
    """Something was looked at before a pour."""

    bay: Id
    what: Tick
    """A key of the list of `ready` that a person ticks."""


class AnswerGiven(Record):
    """A person answers for the concrete that tickets hold the pour for."""

    pour: PourName
    reason: Annotated[str, StringConstraints(min_length=1, max_length=2000)]
    """For what it is held, as it was read (`held` of the bay's tickets): another doubt since is not answered for."""
    why: Line


_TICKET: Any = create_model(
    "TicketAndPicture", __base__=given(acts.Ticket), __doc__=acts.Ticket.__doc__, picture=(Picture | None, None)
)


def hands(api: ApiParts) -> dict[tuple[str, str], Callable[..., Any]]:
    """Return what answers which route."""
    return {
        ("POST", f"{API}/acts/take-over"): _take_over(api),
        ("POST", f"{API}/acts/ready"): _ready(api),
        ("POST", f"{API}/acts/ticket"): _ticket(api),
        ("POST", f"{API}/acts/ticket-answer"): _answer(api),
    }


def _applied(api: ApiParts, act: acts.Act) -> Json:
    api.parts.apply(act)
    return acts.act_to(act)


def _take_over(api: ApiParts) -> Callable[..., Response]:
    def take_over(caller: CallerIn, said: TakeOverGiven, key: Key) -> Response:
        """Take the shift over, having read its sheet. It changes nothing else."""

        def carry_out() -> Json:
            if said.seen != sheet_of(api.parts, caller.site, caller.now, caller.reader).code:
                raise ActRefusedError("something on the sheet has changed since it was read: read it again")
            at = acts.instant(caller.now)
            return _applied(api, acts.TakeOver(at=at, who=caller.person, seen=said.seen, note=said.note))

        return once(api, caller, key, {"act": "take-over", **said.model_dump(mode="json")}, carry_out)

    return take_over


def _ready(api: ApiParts) -> Callable[..., Response]:
    def ready(caller: CallerIn, said: ReadyGiven, key: Key) -> Response:
        """Tick something of the list before a pour, after looking at it; it holds for a night."""

        def carry_out() -> Json:
            if BayId(said.bay) not in bays(caller.site):
                raise ActRefusedError(f"there is no bay {said.bay} in the site file")
            return _applied(api, ticked(said.bay, said.what, caller.person, caller.now, caller.reader))

        return once(api, caller, key, {"act": "ready", **said.model_dump(mode="json")}, carry_out)

    return ready


def _ticket(api: ApiParts) -> Callable[..., Response]:
    def ticket(caller: CallerIn, said: _TICKET, key: Key) -> Response:
        fields = said.model_dump(mode="python", exclude_unset=True, exclude={"picture"})
        # As it was decoded: a dump would encode it again.
        body: bytes = getattr(said, "picture", None) or b""

        def carry_out() -> Json:
            if body and kind_of(body) is None:
                raise ProblemError(422, "picture: it is none of JPEG, PNG or WebP")
            made = acts.Ticket(at=acts.instant(caller.now), who=caller.person, **fields)
            return acts.act_to(hand_in(api.parts, made, body))

        return once(api, caller, key, {"act": "ticket", **said.model_dump(mode="json")}, carry_out)

    ticket.__doc__ = acts.Ticket.__doc__
    return ticket


def _answer(api: ApiParts) -> Callable[..., Response]:
    def answer(caller: CallerIn, said: AnswerGiven, key: Key) -> Response:
        """Lift the hold of a pour's tickets: whoever does says that its calibration holds for this concrete."""

        def carry_out() -> Json:
            row = next((one for one in api.parts.board.board() if one.pour.id == said.pour), None)
            held = next((h.reason for h in (row.holds if row else ()) if h.kind is HoldKind.TICKET), None)
            if held != said.reason:
                raise ActRefusedError("its tickets do not hold the pour for that: read what they say now")
            at, hold = acts.instant(caller.now), HoldKind.TICKET
            return _applied(api, acts.Lift(at=at, who=caller.person, pour=said.pour, hold=hold, why=said.why))

        return once(api, caller, key, {"act": "ticket-answer", **said.model_dump(mode="json")}, carry_out)

    return answer
