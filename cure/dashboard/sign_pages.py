"""Signing: every met requirement that a person may sign, of all bays, on one page; bound to the evidence they saw."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from starlette.responses import Response

from cure.dashboard.asked import Asked, Parts
from cure.dashboard.bay import Answer, bay_view
from cure.dashboard.board import in_order
from cure.dashboard.rendering import page
from cure.dashboard.signing import Signer, can_be_signed, item_of, not_proved_ms
from cure.strip_cold import COLD_C, STRONG_MPA
from cure.work import OPEN_STATES
from shared.errors import ActRefusedError
from shared.models.acts import Sign, instant
from shared.models.base import MINUTE_MS, STRIP, WALK, Operation
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
    stripped: str
    """What taking the forms off in the cold would do; "": nothing of it is foreseen."""


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", "/sign"): lambda asked: _page(parts, asked),
        ("POST", "/sign"): lambda asked: _sign(parts, asked),
    }


def _waiting(parts: Parts, asked: Asked) -> list[ToSign]:
    if parts.board.doubts():
        return []
    found = []
    for row in parts.board.board():
        bay = asked.site.bay_named(row.pour.bay)
        view = bay_view(bay, row, asked.site, asked.now, asked.reader, doubted=False)
        for answer in view.answers:
            operation = answer.cell.operation
            who = Signer(str(asked.visitor.person), asked.visitor.role, asked.address)
            if can_be_signed(row, operation, asked.site, who, asked.now):
                item = item_of(row.gates[operation])
                name = asked.reader.operation(operation)
                told = (_still_shut(row, operation, asked), _stripped(row, operation, asked))
                found.append(ToSign(row, operation, name, answer, item, view.facts, *told))
    return sorted(found, key=lambda t: t.row.pour.bay)


def _still_shut(row: BoardRow, operation: Operation, asked: Asked) -> str:
    """Return what this one signature does not release."""
    shut = [op for op in in_order(row) if op != operation and row.gates[op].state not in OPEN_STATES]
    return ", ".join(map(asked.reader.operation, shut)) or asked.reader.say("none")


def _stripped(row: BoardRow, operation: Operation, asked: Asked) -> str:
    """Return what taking the forms off in the cold would do, beside the signature for it."""
    found = row.state.memory.get("stripped")
    if operation != STRIP or found is None:
        return ""
    reader, load_ms = asked.reader, found["load_ms"]
    said = {
        "percent": f"{100.0 * found['chance_cold']:.0f}",
        "coldest": reader.number(found["coldest_c"], "degC"),
        "cold": reader.number(COLD_C, "degC", limit=True),
        "strong": reader.number(STRONG_MPA, "MPa", limit=True),
        "load": reader.say("strip-load-later") if load_ms is None else reader.whole_hour(load_ms),
    }
    return reader.say("strip-in-the-cold", **said)


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


def _sign(parts: Parts, asked: Asked) -> Response:
    chosen = tuple(dict.fromkeys(asked.form.get("item", ())))
    waiting = {t.item: t for t in _waiting(parts, asked)}
    say = asked.reader.say
    wrong = [] if chosen else [say("sign-nothing")]
    wrong += [say("sign-tick")] if any(not asked.one(box) for box in BOXES) else []
    wrong += [say("sign-moved", what=" ".join(item.split("|")[:2])) for item in chosen if item not in waiting]
    # Last, so that no code is used up for nothing.
    wrong = wrong or _not_proved(parts, asked)
    if wrong:
        return _page(parts, asked, wrong, chosen=chosen)
    return _carry_out(parts, asked, [waiting[item] for item in chosen])


def _not_proved(parts: Parts, asked: Asked) -> list[str]:
    """Return why it is not proved that the person signs; in the demo nothing is asked."""
    if asked.visitor.demo:
        return []
    password = next(iter(asked.form.get("password", ())), "")
    who = Signer(str(asked.visitor.person), asked.visitor.role, asked.address)
    wait_ms = not_proved_ms(parts, asked.site, who, password, asked.one("code"), asked.now)
    if wait_ms is None:
        return []
    return [
        asked.reader.say("sign-in-wait", minutes=-(-wait_ms // MINUTE_MS))
        if wait_ms
        else asked.reader.say("sign-not-you")
    ]


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
