"""Messages with the longest names, with US units, and with next to no facts; and how every text reads.

`python tests/support/wording_support.py > tests/alerts/references/words.txt` writes down how they read now.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from alerts_support import FACTS, make_told

from alerts.wording import words
from shared.models.base import PourId
from shared.models.messages import PERMITS, Message, MessageKind, Text

GOLDEN = Path(__file__).parents[1] / "alerts" / "references" / "words.txt"
WITHOUT_OPERATION = {
    MessageKind.FREEZE_SUSPECTED: "",
    MessageKind.FREEZE_LOCKED: "",
    MessageKind.HOLD: "",
    MessageKind.LOGGER_SILENT: "lg-01.1",
}
"""Kinds that are about a pour or a sensor, with their subject."""
OPERATIONS = ("strip", "walk", "load", "", "uncover")
LONG: dict[str, Any] = {
    "site": "The longest name of a house that anybody could think of " * 3,
    "site_id": "s" * 30 + "-9",
    "floor": "mezzanine between the second and the third floor, east wing",
    "bay": "b" * 30 + "-7",
    "pour": "p" * 46 + "-3",
    "zone": "America/St_Johns",
    "sensor": "l" * 32 + ".12",
    "owner": "e" * 32,
    "bays": [f"{'b' * 30}-{n}" for n in range(9)],
    "exclusions": "grid 7 edge, stair opening, the two panels beside the hoist and the whole of the cantilever",
    "load_kpa": 19.97,
}


def told(kind: MessageKind, subject: str, no: int = 41, **facts: Any) -> Message:
    message = make_told(kind, no, subject=subject, **facts)
    return replace(message, pour=PourId(str(message.facts["pour"])))


@cache
def texts(kind: MessageKind, operation: str, done: bool) -> list[Text]:
    plain = told(kind, operation, done=done)
    long = told(kind, operation, done=done, no=9_999_999, **LONG)
    us = told(kind, operation, done=done, units="US", exclusions="none", not_released=[])
    bare = replace(plain, facts={"operation": operation})
    return [words(m, repeat=repeat) for m in (plain, long, us, bare) for repeat in (False, True)]


def golden() -> str:
    """Return every text that cure can ask for: as a mail reads, and its short text with the longest names too."""
    return "\n".join(_reads(kind, subject, done) for kind, subject, done in _every())


def _every() -> list[tuple[MessageKind, str, bool]]:
    subjects = dict.fromkeys(MessageKind, OPERATIONS[:3]) | {MessageKind.KEEP_OFF: OPERATIONS[:1]}
    subjects |= {kind: (subject,) for kind, subject in WITHOUT_OPERATION.items()}
    done = {MessageKind.WITHDRAWAL: (False, True)}
    return [(k, s, d) for k in MessageKind for s in subjects[k] for d in done.get(k, (False,))]


def _facts(kind: MessageKind, subject: str) -> dict[str, Any]:
    """Return facts that belong together, as cure would write them."""
    met = kind in PERMITS or kind is MessageKind.KEEP_OFF
    found = ["counted hours: 24.2 h, needs 24.0 h - met"] if met else ["counted hours: 22.5 h, needs 24.0 h - not met"]
    released = (subject,) if kind in {MessageKind.RELEASED, MessageKind.KEEP_OFF} else ()
    causes = {MessageKind.KEEP_OFF: "stripping is under way below", MessageKind.WITHDRAWAL: found[0]}
    return {
        "not_released": [o for o in OPERATIONS[:3] if o not in released],
        "findings": [] if kind in WITHOUT_OPERATION else found,
        "cause": causes.get(kind, FACTS["cause"]),
        "sign_command": f"slabhour sign --who YOU {FACTS['pour']} {subject}",
    }


def _reads(kind: MessageKind, subject: str, done: bool) -> str:
    facts = _facts(kind, subject)
    plain = words(told(kind, subject, done=done, **facts), repeat=False)
    longest = words(told(kind, subject, done=done, no=9_999_999, **{**facts, **LONG}), repeat=True)
    about = ", ".join(filter(None, (kind, subject, "done" if done else "")))
    title = f"=== {about} " + "=" * (110 - len(about))
    return f"{title}\nshort:   {plain.short}\nlongest: {longest.short}\nsubject: {plain.subject}\n\n{plain.body}"


if __name__ == "__main__":
    print(golden(), end="")
