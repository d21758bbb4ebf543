"""The one caution of a message, fitting its operation. Every sentence is ours."""

from __future__ import annotations

from typing import Final

from alerts.telling import Telling
from shared.models.base import LOAD, STRIP, WALK
from shared.models.messages import PERMITS, MessageKind

GOVERN: Final = "The engineer of record, the contract and local code govern."
BARE_JOISTS: Final = "slab on bare joists, spread load, no wheels, stacks or form bundles"

_PERMIT: Final[dict[str, str]] = {
    STRIP: f"Caution: the requirement for stripping is met, nothing else. No added load; once stripped the slab "
    f"carries itself on bare joists. {GOVERN}",
    WALK: f"Caution: the requirement for people on foot is met, nothing else. No added load, nothing stacked, not "
    f"while forms are being stripped below. {GOVERN}",
}
_SHUT: Final[dict[str, str]] = {
    STRIP: f"Caution: forms stay on and nothing is loaded until a message of its own says otherwise. {GOVERN}",
    WALK: f"Caution: nobody walks on it until a message of its own says otherwise. {GOVERN}",
    LOAD: f"Caution: nothing is loaded until a message of its own says otherwise. {GOVERN}",
}
_BELOW: Final = f"Caution: only the crew that strips is under or on these bays, nobody else. {GOVERN}"
_NOBODY: Final = f"Caution: nobody is on it or under it until the engineer has seen it. {GOVERN}"
_SHUT_ALL: Final = f"Caution: this message lets nothing go ahead. {GOVERN}"


def caution(telling: Telling, construction_load: str) -> str:
    """Return the caution: what a permit does not cover, or what stays shut."""
    kind, operation = telling.message.kind, telling.operation
    if kind not in PERMITS:
        return _shut(telling)
    if operation == LOAD:
        return (
            f"Caution: the requirement for the construction load is met, nothing else. {GOVERN} "
            f"Construction load {construction_load}: {BARE_JOISTS}"
        )
    other = f"Caution: the requirement for {telling.what} is met, nothing else. {GOVERN}"
    return _PERMIT.get(operation, other)


def _shut(telling: Telling) -> str:
    kind, operation = telling.message.kind, telling.operation
    if kind is MessageKind.KEEP_OFF:
        return _BELOW if operation == STRIP else _SHUT[WALK]
    if kind is MessageKind.WITHDRAWAL and telling.facts.flag("done"):
        return _NOBODY
    if kind is MessageKind.RELEASED_EARLY:
        return _SHUT_ALL
    return _SHUT.get(operation, _SHUT_ALL)
