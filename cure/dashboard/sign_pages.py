"""Signing: every met requirement that a person may sign, of all bays, on one page; bound to the evidence they saw."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from starlette.responses import Response

from cure.dashboard import door
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.attempts import Attempts
from cure.dashboard.bay import OPEN, Answer, bay_view
from cure.dashboard.board import in_order, is_late
from cure.dashboard.rendering import page
from cure.dashboard.signs import stripping_near
from shared.errors import ActRefusedError
from shared.models.accounts import role_of
from shared.models.acts import Sign, instant
from shared.models.base import MINUTE_MS, STRIP, WALK, Operation
from shared.models.decisions import Gate, GateState
from shared.models.requirement import ANSWERS, SIGNERS
from shared.ports import BoardRow

BOXES: Final = ("read", "nothing-else")
"""What whoever signs ticks, in words."""


@dataclass(frozen=True, slots=True)
class ToSign:
    """One requirement that is met and waits."""

    row: BoardRow
    operation: Operation
    name: str
    answer: Answer
    item: str
    """Pour, operation and the evidence as they were seen."""
    facts: tuple[tuple[str, str], ...]
    not_released: str


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    attempts = Attempts()
    return {
        ("GET", "/sign"): lambda asked: _page(parts, asked),
        ("POST", "/sign"): lambda asked: _sign(parts, attempts, asked),
    }


def item_of(gate: Gate) -> str:
    """Return what binds a signature to what was seen: the pour, the operation, its epoch and its evidence."""
    return f"{gate.pour}|{gate.operation}|{gate.epoch}|{(gate.snapshot or '')[:24]}"


def _waiting(parts: Parts, asked: Asked) -> list[ToSign]:
    if parts.board.doubts():
        return []
    found = []
    for row in parts.board.board():
        bay = asked.site.bay_named(row.pour.bay)
        view = bay_view(bay, row, asked.site, asked.now, asked.reader, doubted=False)
        for answer in view.answers:
            operation = answer.cell.operation
            if _can_be_signed(row, operation, asked):
                item = item_of(row.gates[operation])
                name = asked.reader.operation(operation)
                found.append(ToSign(row, operation, name, answer, item, view.facts, _still_shut(row, operation, asked)))
    return sorted(found, key=lambda t: t.row.pour.bay)


def _still_shut(row: BoardRow, operation: Operation, asked: Asked) -> str:
    """Return what this one signature does not release."""
    shut = [op for op in in_order(row) if op != operation and row.gates[op].state not in OPEN]
    return ", ".join(map(asked.reader.operation, shut)) or asked.reader.say("none")


def _can_be_signed(row: BoardRow, operation: Operation, asked: Asked) -> bool:
    gate = row.gates[operation]
    if gate.state is not GateState.MET or is_late(row, asked.site, asked.now):
        return False
    if operation != STRIP and stripping_near(row):
        return False
    if not any(v.operation == operation and v.met for v in row.state.verdicts):
        return False
    return asked.visitor.role in SIGNERS.get(operation, ANSWERS) and asked.visitor.person not in gate.signers


def _page(
    parts: Parts,
    asked: Asked,
    wrong: Sequence[str] = (),
    done: Sequence[str] = (),
    chosen: Sequence[str] | None = None,
) -> Response:
    bay = asked.query.get("bay", "")
    waiting = _waiting(parts, asked)
    if chosen is None:
        # What bears a load is never signed along with the rest.
        chosen = [t.item for t in waiting if bay in {"", t.row.pour.bay} and t.operation in {STRIP, WALK}]
    status = 422 if wrong else 200
    return page(
        asked,
        "sign.html",
        status=status,
        waiting=waiting,
        wrong=list(wrong),
        done=list(done),
        ticked=list(chosen),
        boxes=BOXES,
    )


def _sign(parts: Parts, attempts: Attempts, asked: Asked) -> Response:
    chosen = tuple(dict.fromkeys(asked.form.get("item", ())))
    waiting = {t.item: t for t in _waiting(parts, asked)}
    say = asked.reader.say
    wrong = [] if chosen else [say("sign-nothing")]
    wrong += [say("sign-tick")] if any(not asked.one(box) for box in BOXES) else []
    wrong += [say("sign-moved", what=" ".join(item.split("|")[:2])) for item in chosen if item not in waiting]
    # Last, so that no code is used up for nothing.
    wrong = wrong or _not_proved(parts, attempts, asked)
    if wrong:
        return _page(parts, asked, wrong, chosen=chosen)
    return _carry_out(parts, asked, [waiting[item] for item in chosen])


def _not_proved(parts: Parts, attempts: Attempts, asked: Asked) -> list[str]:
    """Return why it is not proved that the person signs: password and a new code; in the demo there are none."""
    if asked.visitor.demo:
        return []
    person = str(asked.visitor.person)
    if (wait_ms := attempts.wait_ms(person, asked.address, asked.now)) > 0:
        return [asked.reader.say("sign-in-wait", minutes=-(-wait_ms // MINUTE_MS))]
    account = parts.people.account(person)
    password = next(iter(asked.form.get("password", ())), "")[: door.LONGEST]
    proved = (
        account is not None
        and role_of(asked.site, account) is asked.visitor.role
        and door.is_password(account, password)
        and door.use_code(parts.people, account, asked.one("code"), asked.now)
    )
    if proved:
        attempts.succeeded(person, asked.address)
        return []
    attempts.failed(person, asked.address, asked.now)
    return [asked.reader.say("sign-not-you")]


def _carry_out(parts: Parts, asked: Asked, chosen: Sequence[ToSign]) -> Response:
    """Sign pour by pour: each is whole or not at all, and what was refused is said with its reason."""
    done, wrong = [], []
    for pour in dict.fromkeys(t.row.pour.id for t in chosen):
        of_pour = [t for t in chosen if t.row.pour.id == pour]
        what = f"{of_pour[0].row.pour.bay}: {', '.join(t.name for t in of_pour)}"
        operations = tuple(t.operation for t in of_pour)
        act = Sign(at=instant(asked.now), who=str(asked.visitor.person), pour=pour, operations=operations)
        try:
            parts.apply(act)
        except ActRefusedError as error:
            wrong.append(asked.reader.say("sign-refused", what=what, why=asked.reader.known(str(error))))
        else:
            done.append(asked.reader.say("signed-now", what=what))
    return _page(parts, asked, wrong, done, chosen=())
