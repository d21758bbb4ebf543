"""The one caution of a message, fitting its operation. Every sentence is ours."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from alerts.telling import Telling
from shared.models.base import LOAD, STRIP, WALK
from shared.models.messages import PERMITS, MessageKind

_OWN: Final = frozenset({STRIP, WALK, LOAD})
"""Operations with a caution of their own."""
_BY_KIND: Final = {
    MessageKind.RELEASED_EARLY: "shut-all",
    MessageKind.MORNING_LIST: "shut-list",
    MessageKind.HANDOVER: "shut-list",
    MessageKind.TEST: "shut-test",
}


def caution(telling: Telling, operations: Sequence[str] = ()) -> str:
    """Return the caution: what a permission does not cover, or what stays shut; `operations`: told of together."""
    kind = telling.message.kind
    if kind not in PERMITS:
        return telling.say(_shut(telling))
    about = operations or (telling.operation,)
    if kind is MessageKind.SIGN_OFF_WANTED:
        first = telling.say("caution-request")
    else:
        first = telling.say("caution-met", noun=", ".join(_noun(telling, operation) for operation in about))
    own = [telling.say(f"caution-{operation}") for operation in about if operation in {STRIP, WALK}]
    last = telling.say("caution-load", load=telling.load) if LOAD in about else telling.say("govern")
    return " ".join((first, *own, last))


def _noun(telling: Telling, operation: str) -> str:
    if operation in _OWN:
        return telling.say(f"noun-{operation}")
    return telling.named(operation) if operation else telling.what


def _shut(telling: Telling) -> str:
    kind, operation = telling.message.kind, telling.operation
    if kind in _BY_KIND:
        return _BY_KIND[kind]
    if kind is MessageKind.KEEP_OFF:
        return "shut-below" if operation == STRIP else "shut-walk"
    if kind is MessageKind.WITHDRAWAL and telling.facts.flag("done"):
        return "shut-prop" if operation == STRIP else "shut-nobody"
    return f"shut-{operation}" if operation in _OWN else "shut-all"
