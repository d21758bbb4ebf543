"""The words of a message, in English: subject, body and short text, the verdict first in each.

Pure, and total: whatever the facts lack, a text results, because an unsent withdrawal is worse than an unknown cause.
No text says more than the requirement that is met, and none begins with a carrier's opt-out word.
"""

from __future__ import annotations

from typing import Final

from alerts.cautions import caution
from alerts.facts import Facts
from alerts.gsm import ascii_line, short_text, shortened
from alerts.hours import long_hour, short_hour
from alerts.phrases import PHRASES, Phrase, construction_load
from alerts.telling import Telling
from shared.models.messages import PERMITS, Message, MessageKind, Text

_NAMED: Final = 32
"""Longest name in a subject."""


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


def _subject(telling: Telling, phrase: Phrase, number: str) -> str:
    facts = telling.facts
    where = (
        f"bay {shortened(facts.text('bay'), _NAMED)}, floor {shortened(facts.text('floor'), _NAMED)}, "
        f"{shortened(facts.text('site'), _NAMED)}, pour {shortened(str(telling.message.pour), 48)}"
    )
    return ascii_line(f"{phrase.verdict}{phrase.rest} - {where} - {number}")


def _short(telling: Telling, phrase: Phrase, number: str) -> str:
    facts = telling.facts
    names = [facts.text("site_id"), facts.text("bay"), str(telling.message.pour)]
    trailer = f"{short_hour(telling.hour_ms, telling.zone)} {number}"
    return short_text(f"{phrase.verdict}{phrase.short_rest}", names, trailer, phrase.endings)


def _body(telling: Telling, phrase: Phrase, number: str) -> str:
    facts, message = telling.facts, telling.message
    lines = [
        f"{phrase.verdict}{phrase.rest}",
        f"Message {number}",
        "",
        f"Site: {facts.text('site')} ({facts.text('site_id')})",
        f"Floor: {facts.text('floor')}",
        f"Bay: {facts.text('bay')}",
        f"Pour: {message.pour}",
        f"Hour: {long_hour(telling.hour_ms, telling.zone)}",
        "",
        *phrase.lines,
        *_findings(facts),
        _shut(telling),
        *_limits(telling),
        *_replaced(telling),
        "",
        caution(telling, construction_load(telling)),
    ]
    return "\n".join(lines) + "\n"


def _findings(facts: Facts) -> list[str]:
    findings = facts.items("findings")
    return ["Findings:", *(f"- {f}" for f in findings)] if findings else []


def _shut(telling: Telling) -> str:
    if telling.message.kind is MessageKind.MET_NOT_SIGNED:
        others = (o for o in telling.facts.items("not_released") if o != telling.operation)
        return f"Still shut: {', '.join(others) or 'none'}"
    return f"Not released: {telling.facts.listed('not_released')}"


def _replaced(telling: Telling) -> list[str]:
    """A release, a request or a withdrawal is the last word on its operation; a keep-off message is not."""
    kind = telling.message.kind
    if kind not in PERMITS and kind is not MessageKind.WITHDRAWAL:
        return []
    return [f"No. {telling.message.no} replaces every lower number about this pour and {telling.what}."]


def _limits(telling: Telling) -> list[str]:
    """Where and until when a permission holds. A "keep off" has no exclusions: it must not seem to have any."""
    message = telling.message
    if message.kind not in PERMITS:
        return []
    return [
        f"Exclusions, where this does not hold: {telling.facts.text('exclusions')}",
        f"Valid until {long_hour(message.valid_until_ms, telling.zone)}, void after it.",
    ]
