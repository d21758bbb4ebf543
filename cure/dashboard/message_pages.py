"""What was said, in its exact words, to whom, and what became of it; whoever got a withdrawal answers it here."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Final

from starlette.responses import Response

from cure.dashboard.answers import see_other
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.record_facts import RECORDED
from cure.dashboard.rendering import page, problem
from cure.dashboard.rules import may
from cure.dashboard.standings import standings
from cure.dashboard.told import Told, got_it, told, worded
from cure.lists import CONFIRMED_BY_PERSONS, NEEDS_A_PERSON
from shared.errors import ActRefusedError
from shared.models.acts import Confirm, instant
from shared.models.messages import Delivery, DeliveryState, Message
from shared.models.people import Role
from shared.ports import Which

CONFIRM: Final = "/message/{no}/confirm"
AT_ONCE: Final = 50
"""Messages on a page."""
LONGEST: Final = 200
"""Of what is said of a call by phone."""


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", "/messages"): lambda asked: _list(parts, asked),
        ("GET", "/message/{no}"): lambda asked: _one(parts, asked),
        ("POST", CONFIRM): lambda asked: _confirm(parts, asked),
    }


def number_of(said: str) -> int:
    """Return a number of the path or the query; 0 when it is none."""
    return int(said) if said.isascii() and said.isdecimal() and len(said) < 10 else 0


def numbered(parts: Parts, asked: Asked) -> Message | None:
    """Return the message of a path."""
    no = number_of(asked.path["no"])
    return parts.board.message(no) if no else None


def _by_message(deliveries: Sequence[Delivery]) -> Mapping[int, list[Delivery]]:
    found: dict[int, list[Delivery]] = {}
    for delivery in deliveries:
        found.setdefault(delivery.message, []).append(delivery)
    return found


def _list(parts: Parts, asked: Asked) -> Response:
    bay, before = asked.query.get("bay", ""), number_of(asked.query.get("before", ""))
    book, of = parts.board, Which(bay=bay)
    waiting = [] if before else book.waiting_messages(of, CONFIRMED_BY_PERSONS, NEEDS_A_PERSON, AT_ONCE)
    # One more than are shown: whether there are older ones.
    older = book.newest_messages(replace(of, before=before), AT_ONCE + 1)
    shown = older[:AT_ONCE]
    deliveries = _by_message(book.deliveries_of({m.no for m in (*waiting, *shown)}))
    stands = standings(book, book.board(), asked.site, asked.now, [*waiting, *shown])

    def lines(messages: Sequence[Message]) -> list[Told]:
        return [
            told(m, deliveries.get(m.no, []), stands(m), asked.site, asked.now, asked.reader, parts.texts)
            for m in messages
        ]

    return page(
        asked,
        "messages.html",
        waiting=lines(waiting),
        messages=lines(shown),
        bay=bay,
        before=shown[-1].no if len(older) > AT_ONCE else 0,
    )


def _one(parts: Parts, asked: Asked, wrong: str = "") -> Response:
    message = numbered(parts, asked)
    if message is None:
        return problem(asked, "no-message", status=404)
    deliveries = parts.board.deliveries_of([message.no])
    may_confirm = message.kind in CONFIRMED_BY_PERSONS and may("POST", CONFIRM, asked.visitor.comer)
    stands = standings(parts.board, parts.board.board(), asked.site, asked.now)(message)
    unanswered = any(d.state is not DeliveryState.CONFIRMED for d in deliveries)
    return page(
        asked,
        "message.html",
        status=422 if wrong else 200,
        wrong=wrong,
        message=message,
        told=told(message, deliveries, stands, asked.site, asked.now, asked.reader, parts.texts),
        hour=asked.reader.whole_hour(message.at_ms),
        bay=next((b.id for b in asked.site.bay if b.id == message.facts.get("bay")), ""),
        worded=worded(message, deliveries, asked.site, asked.reader, parts.texts),
        has_record=message.kind in RECORDED,
        may_confirm=may_confirm and got_it(asked.visitor.person, deliveries),
        may_tell=may_confirm and unanswered and asked.visitor.role is Role.ENGINEER,
        longest=LONGEST,
    )


def _confirm(parts: Parts, asked: Asked) -> Response:
    message = numbered(parts, asked)
    if message is None:
        return problem(asked, "no-message", status=404)
    by_phone, said = asked.one("how") == "phone", asked.one("told")
    deliveries = parts.board.deliveries_of([message.no])
    if wrong := _why_not(asked, message, deliveries, by_phone=by_phone):
        return _one(parts, asked, wrong)
    person = str(asked.visitor.person)
    try:
        parts.apply(Confirm(at=instant(asked.now), who=person, message=message.no, told=said if by_phone else None))
    except ActRefusedError as error:
        return _one(parts, asked, asked.reader.known(str(error)))
    return see_other(f"/message/{message.no}")


def _why_not(asked: Asked, message: Message, deliveries: Sequence[Delivery], *, by_phone: bool) -> str:
    """Return why this person cannot answer this message; "": they can."""
    say, said = asked.reader.say, asked.one("told")
    if message.kind not in CONFIRMED_BY_PERSONS:
        return say("confirm-other")
    if by_phone:
        fit = asked.visitor.role is Role.ENGINEER and 0 < len(said) <= LONGEST and said.isprintable()
        return "" if fit else say("confirm-told-wrong", longest=LONGEST)
    if not got_it(asked.visitor.person, deliveries):
        return say("confirm-not-yours")
    return "" if asked.one("clear") else say("confirm-tick")
