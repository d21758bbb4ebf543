"""The one caution of a message, fitting its operation. Every sentence is ours."""

from __future__ import annotations

from typing import Final

from alerts.telling import Telling
from shared.models.base import LOAD, STRIP, WALK
from shared.models.messages import PERMITS, MessageKind

GOVERN: Final = "The engineer of record, the contract and local code govern."
BARE_JOISTS: Final = "slab on bare joists, spread load, no wheels, stacks or form bundles"

_NOUNS: Final[dict[str, str]] = {STRIP: "stripping", WALK: "people on foot", LOAD: "the construction load"}
_PERMIT: Final[dict[str, str]] = {
    STRIP: "No added load; once stripped the slab carries itself on bare joists.",
    WALK: "No added load, nothing stacked, not while forms are being stripped below.",
}
_SHUT: Final[dict[str, str]] = {
    STRIP: f"Caution: forms stay on and nothing is loaded until a message of its own says otherwise. {GOVERN}",
    WALK: f"Caution: nobody walks on it until a message of its own says otherwise. {GOVERN}",
    LOAD: f"Caution: nothing is loaded until a message of its own says otherwise. {GOVERN}",
}
_BELOW: Final = f"Caution: only the crew that strips is under or on these bays, nobody else. {GOVERN}"
_PROP: Final = f"Caution: nobody is on it, and under it only who props it, until the engineer has seen it. {GOVERN}"
_NOBODY: Final = f"Caution: nobody is on it or under it until the engineer has seen it. {GOVERN}"
_REQUEST: Final = "Caution: this is a request, not a release: nothing goes ahead before the release itself."
_SHUT_ALL: Final = f"Caution: this message lets nothing go ahead. {GOVERN}"


def caution(telling: Telling, construction_load: str) -> str:
    """Return the caution: what a permission does not cover, or what stays shut."""
    kind, operation = telling.message.kind, telling.operation
    if kind not in PERMITS:
        return _shut(telling)
    first = f"Caution: the requirement for {_NOUNS.get(operation, telling.what)} is met, nothing else."
    if kind is MessageKind.SIGN_OFF_WANTED:
        first = _REQUEST
    if operation == LOAD:
        return f"{first} {GOVERN} Construction load {construction_load}: {BARE_JOISTS}"
    return " ".join(filter(None, (first, _PERMIT.get(operation), GOVERN)))


def _shut(telling: Telling) -> str:
    kind, operation = telling.message.kind, telling.operation
    if kind is MessageKind.KEEP_OFF:
        return _BELOW if operation == STRIP else _SHUT[WALK]
    if kind is MessageKind.WITHDRAWAL and telling.facts.flag("done"):
        return _PROP if operation == STRIP else _NOBODY
    if kind is MessageKind.RELEASED_EARLY:
        return _SHUT_ALL
    return _SHUT.get(operation, _SHUT_ALL)
