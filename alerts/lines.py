"""The lines of a body that follow from what a message is, whatever its kind's own words."""

from __future__ import annotations

from typing import Final

from alerts.phrase import Block
from alerts.telling import Telling
from shared.models.messages import PERMITS, MessageKind

_OF_SITE: Final = frozenset(
    {
        MessageKind.COVER_TONIGHT,
        MessageKind.LOW_BATTERY,
        MessageKind.CALIBRATION,
        MessageKind.DELIVERY_FAILED,
        MessageKind.IN_DOUBT,
        MessageKind.MORNING_LIST,
        MessageKind.HANDOVER,
        MessageKind.TEST,
    }
)
"""Kinds that are about no operation of a pour."""
JUDGED: Final = frozenset(MessageKind) - _OF_SITE - {MessageKind.KEEP_OFF}
"""Kinds whose findings say why. A keep-off message has none of its own: its strip was judged and found met. And what
else is released does not hold while it stands: a list of what is shut would read as a permission."""
_LOG_HASH: Final = 16
"""So many characters of a log line's hash make an anchor."""


def own_lines(telling: Telling) -> list[str]:
    """Return where and until when a permission holds, what stays shut, what it replaces, and by what it was judged."""
    return [
        *_validity(telling),
        *_not_released(telling),
        *_replaced(telling),
        *_requirement(telling),
        *_anchor(telling),
        *([telling.say("demo")] if telling.facts.flag("scripted") else []),
    ]


def findings(telling: Telling) -> tuple[Block, ...]:
    """Return the findings of what was judged."""
    found = telling.facts.items("findings") if telling.message.kind in JUDGED else ()
    lines = tuple(map(telling.voice.known, found))
    return (Block(telling.say("findings", what=telling.what), lines),) if lines else ()


def _validity(telling: Telling) -> list[str]:
    """A "keep off" has no exclusions: it must not seem to have any."""
    message, excluded = telling.message, telling.exclusions
    if message.kind not in PERMITS:
        return []
    until = message.valid_until_ms
    return [
        telling.say("excluded", where=excluded) if excluded else telling.say("excluded-none"),
        telling.say("valid-until", hour=telling.long(until)),
    ]


def _not_released(telling: Telling) -> list[str]:
    kind, facts = telling.message.kind, telling.facts
    if kind not in JUDGED:
        return []
    own = {MessageKind.RELEASED, MessageKind.MET_NOT_SIGNED}
    shut = telling.others_not_released if kind in own else telling.operations(facts.items("not_released"))
    empty = "none" if isinstance(facts.json.get("not_released"), list | tuple) else "not-known"
    key = "still-shut" if kind is MessageKind.MET_NOT_SIGNED else "not-released"
    return [telling.say(key, others=", ".join(shut) or telling.say(empty))]


def _replaced(telling: Telling) -> list[str]:
    """A release, a request or a withdrawal is the last word on its operation; a keep-off message is not."""
    kind = telling.message.kind
    if kind not in PERMITS and kind is not MessageKind.WITHDRAWAL:
        return []
    return [telling.say("replaces", no=str(telling.message.no), what=telling.what)]


def _requirement(telling: Telling) -> list[str]:
    facts = telling.facts
    text = telling.voice.known(facts.text("requirement", ""))
    if not text or telling.message.kind not in JUDGED:
        return []
    version = facts.text("requirement_version", "")
    said = telling.say("requirement-version", version=version, text=text)
    return [said if version else telling.say("requirement", text=text)]


def _anchor(telling: Telling) -> list[str]:
    message = telling.message
    if message.kind not in PERMITS or not message.log_hash:
        return []
    return [telling.say("anchor", seq=str(message.log_seq), hash=message.log_hash[:_LOG_HASH])]
