"""The words of a message, in English: subject, body and short text, the verdict first in each.

Pure, and total: whatever the facts lack, a text results, because an unsent withdrawal is worse than an unknown cause.
No text says more than the requirement that is met, and none begins with a carrier's opt-out word.
"""

from __future__ import annotations

from typing import Final

from alerts.cautions import caution
from alerts.facts import Facts
from alerts.gsm import Part, ascii_line, named, short_text, shortened
from alerts.hours import long_hour, short_hour
from alerts.phrases import LABELS, PHRASES, Phrase, construction_load
from alerts.telling import Telling
from shared.models.messages import PERMITS, Message, MessageKind, Text

_NAMED: Final = 32
"""Longest name in a subject."""
_LIMIT: Final = 60
"""Longest limit in a subject."""
_JUDGED: Final = frozenset(MessageKind) - {MessageKind.KEEP_OFF}
"""Kinds whose findings say why. A keep-off message has none of its own: its strip was judged and found met."""


def words(message: Message, *, repeat: bool) -> Text:
    """Return the text of a message; `repeat`: an earlier attempt may have arrived, and the text says so."""
    facts = Facts(message.facts)
    telling = Telling(message, facts)
    phrase = PHRASES[message.kind](telling)
    number = f"repeat of no. {message.no}" if repeat else f"no. {message.no}"
    return Text(
        subject=_subject(telling, phrase, number),
        body=_body(telling, phrase, number),
        short=_short(telling, phrase, number),
    )


def reasons(message: Message) -> list[str]:
    """Return why it is said, in sentences: the findings of what was judged, else the cause or reason alone."""
    facts = Facts(message.facts)
    told = [facts.text(key, "") for key in ("cause", "reason")]
    findings = facts.items("findings") if message.kind in _JUDGED else ()
    return [*findings, *(sentence for sentence in told if sentence)]


def _headline(telling: Telling, phrase: Phrase) -> str:
    """Return verdict, limits and bay."""
    limits = (next((w for w in p.wordings if len(w) <= _LIMIT), p.wordings[-1]) for p in phrase.limits)
    return f"{phrase.verdict}{''.join(limits)}{phrase.matter} {shortened(telling.facts.text('bay'), _NAMED)}"


def _subject(telling: Telling, phrase: Phrase, number: str) -> str:
    facts = telling.facts
    where = (
        f"floor {shortened(facts.text('floor'), _NAMED)}, pour {shortened(str(telling.message.pour), _NAMED)}, "
        f"{shortened(facts.text('site'), _NAMED)}"
    )
    return ascii_line(f"{_headline(telling, phrase)}, {where} - {number}")


def _short(telling: Telling, phrase: Phrase, number: str) -> str:
    facts = telling.facts
    hour = short_hour(telling.hour_ms, telling.zone)
    return short_text(
        [
            Part((phrase.verdict,)),
            *phrase.limits,
            Part((f"{phrase.matter} ",)),
            named(facts.text("bay")),
            Part((", pour ", ", ", " "), LABELS),
            named(str(telling.message.pour)),
            Part((", ", " "), LABELS),
            named(facts.text("site_id")),
            Part((f", {hour}, {number}", f" {hour} {number}"), LABELS),
            *phrase.endings,
        ]
    )


def _body(telling: Telling, phrase: Phrase, number: str) -> str:
    facts, message = telling.facts, telling.message
    lines = [
        _headline(telling, phrase),
        f"Message: {number}",
        "",
        f"Site: {facts.text('site')} ({facts.text('site_id')})",
        f"Floor: {facts.text('floor')}",
        f"Bay: {facts.text('bay')}",
        f"Pour: {message.pour}",
        f"Hour: {long_hour(telling.hour_ms, telling.zone)}",
        "",
        *phrase.lines,
        *_validity(telling),
        *_not_released(telling),
        *_replaced(telling),
        *_findings(telling),
        "",
        caution(telling, construction_load(telling)),
    ]
    return "\n".join(lines) + "\n"


def _findings(telling: Telling) -> list[str]:
    findings = telling.facts.items("findings") if telling.message.kind in _JUDGED else ()
    return [f"Findings for {telling.what}:", *(f"- {f}" for f in findings)] if findings else []


def _not_released(telling: Telling) -> list[str]:
    if telling.message.kind is MessageKind.KEEP_OFF:
        # What else is released does not hold while it stands: a list without it would read as a permission.
        return []
    others = ", ".join(telling.others_not_released) or "none"
    match telling.message.kind:
        case MessageKind.RELEASED:
            return [f"Not released: {others}"]
        case MessageKind.MET_NOT_SIGNED:
            return [f"Still shut: {others}"]
        case _:
            return [f"Not released: {telling.facts.listed('not_released')}"]


def _replaced(telling: Telling) -> list[str]:
    """A release, a request or a withdrawal is the last word on its operation; a keep-off message is not."""
    kind = telling.message.kind
    if kind not in PERMITS and kind is not MessageKind.WITHDRAWAL:
        return []
    return [f"No. {telling.message.no} replaces every lower number about this pour and {telling.what}."]


def _validity(telling: Telling) -> list[str]:
    """Where and until when a permission holds. A "keep off" has no exclusions: it must not seem to have any."""
    message, excluded = telling.message, telling.exclusions
    if message.kind not in PERMITS:
        return []
    return [
        f"Excluded, this does not hold there: {excluded}" if excluded else "Excluded: none",
        f"Valid until {long_hour(message.valid_until_ms, telling.zone)}, void after it.",
    ]
