"""What each kind of message says: its verdict, the lines that only it has, and its short text's endings.

The verdict stands first and carries its negation, so that no beginning of a text reads as a permission it is not.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from alerts.cautions import BARE_JOISTS
from alerts.facts import UNKNOWN
from alerts.gsm import shortened
from alerts.hours import long_hour, short_hour
from alerts.telling import Telling
from shared import units
from shared.models.base import LOAD, STRIP, WALK
from shared.models.messages import MessageKind

_DEEDS: Final[dict[str, str]] = {STRIP: "do not strip", WALK: "do not walk on it", LOAD: "do not load it"}
_MANY: Final = 80
"""Longest list of bays in a subject."""
_ANSWER: Final = (("Answer: area clear", ""),)
_CLEAR: Final = 'Answer "area clear" to this number; it repeats every 5 minutes until a person does.'


@dataclass(frozen=True, slots=True)
class Phrase:
    """The words that differ by kind."""

    verdict: str
    rest: str
    """Follows the verdict in subject and body."""
    short_rest: str
    """Follows the verdict in the short text: a few words."""
    lines: tuple[str, ...] = ()
    endings: tuple[tuple[str, ...], ...] = ()
    """Endings of the short text: each in wordings from long to short, the last of which always stands."""


def construction_load(telling: Telling) -> str:
    """Return the construction load in words; a limit for people is rounded down."""
    load = telling.facts.number("load_kpa")
    if load is None:
        return "as the engineer's document says"
    return f"at most {units.shown(load, 'kPa', first=telling.first, limit=False)}"


def _permit(telling: Telling, verdict: str, rest: str, short_rest: str, lines: tuple[str, ...]) -> Phrase:
    facts, operation = telling.facts, telling.operation
    limit = short_limit = ""
    endings: list[tuple[str, ...]] = []
    if facts.text("exclusions") != "none":
        endings.append((f"Not: {facts.text('exclusions')}", "Exclusions apply"))
    if operation == LOAD:
        limit = f", {construction_load(telling)}"
        short_limit = limit.partition(" (")[0].replace("at most", "max") if facts.number("load_kpa") is not None else ""
        endings.append((BARE_JOISTS, "No wheels, stacks or form bundles", "No wheels/stacks"))
    elif operation in {STRIP, WALK}:
        limit = short_limit = ", no added load"
    return Phrase(verdict, f"{rest}{limit}", f"{short_rest}{short_limit}", lines, tuple(endings))


def _released(telling: Telling) -> Phrase:
    lines = (f"Signed by: {telling.facts.listed('signers', UNKNOWN)}",)
    rest = f": {telling.what}"
    return _permit(telling, "RELEASED", rest, rest, lines)


def _met_not_signed(telling: Telling) -> Phrase:
    lines = ("Nobody has signed: by this site's policy the requirement being met is all that this message says.",)
    what = telling.what
    return _permit(telling, "NOT SIGNED", f": {what} requirement met", f": {what} met", lines)


def _sign_off_wanted(telling: Telling) -> Phrase:
    facts = telling.facts
    lines = (
        f"The requirement for {telling.what} is met. Nothing goes ahead before it is signed.",
        f"Sign-offs wanted: {facts.text('sign_offs')}, by: {facts.listed('roles', UNKNOWN)}",
        f"To sign: {facts.text('sign_command')}",
    )
    return Phrase("NOT RELEASED", f": sign-off wanted for {telling.what}", f", sign-off wanted: {telling.what}", lines)


def _cold_delay(telling: Telling) -> Phrase:
    facts, zone, first = telling.facts, telling.zone, telling.first
    expected = facts.ms("expected_ms")
    hour = "no hour can be named while it stays this cold"
    ending: tuple[str, ...] = ("No hour while it stays this cold",)
    if expected is not None:
        hour = f"{long_hour(expected, zone, up=True)}, NOT RELEASED, wait for release"
        short = f"Exp. {short_hour(expected, zone, up=True)}"
        ending = (f"{short}, wait for release", short)
    limit = units.shown(facts.number("limit_c"), "degC", first=first, limit=True)
    lines = (
        f"By the plan's clock hours: {long_hour(facts.ms('plan_ms'), zone)}",
        f"Expected: {hour}",
        f"Counted hours, at or above {limit}: {_hours(telling, 'counted_h')}",
        f"Hours by the clock: {_hours(telling, 'clock_h')}",
        f"Coldest concrete: {units.shown(facts.number('coldest_c'), 'degC', first=first, limit=False)}",
        f"Cause: {facts.text('cause')}",
    )
    return Phrase("COLD DELAY", f", not released: {telling.what}", f", not released: {telling.what}", lines, (ending,))


def _hours(telling: Telling, key: str) -> str:
    return units.shown(telling.facts.number(key), "h", limit=False)


def _held(telling: Telling, verdict: str, rest: str) -> Phrase:
    facts = telling.facts
    lines = (
        f"Reason: {facts.text('reason')}",
        f"Owner: {facts.text('owner')}",
        f"To lift it: {facts.text('how')}",
    )
    return Phrase(verdict, rest, rest, lines, ((f"Owner: {facts.text('owner')}", ""), (facts.text("reason"), "")))


def _freeze_suspected(telling: Telling) -> Phrase:
    return _held(telling, "HOLD: FREEZE", " suspected, nothing goes ahead")


def _freeze_locked(telling: Telling) -> Phrase:
    return _held(telling, "LOCKED:", " freeze, nothing goes ahead, call the engineer")


def _hold(telling: Telling) -> Phrase:
    return _held(telling, "HOLD:", f" {shortened(telling.facts.text('hold'), 30)}, nothing goes ahead")


def _logger_silent(telling: Telling) -> Phrase:
    facts = telling.facts
    newest = facts.ms("newest_ms")
    since = "none has come" if newest is None else long_hour(newest, telling.zone)
    required = "The sensor is required: while it is silent nothing more of this pour is let go ahead."
    other = "The sensor is not required: hours and decisions go on without it."
    lines = (f"Newest reading: {since}", required if facts.flag("required") else other)
    sensor = facts.text("sensor", telling.message.subject or UNKNOWN)
    ending = "None has come" if newest is None else f"Newest {short_hour(newest, telling.zone)}"
    return Phrase("NO READINGS:", f" {sensor}", f" {shortened(sensor, 36)}", lines, ((ending,),))


def _withdrawal(telling: Telling) -> Phrase:
    facts, operation = telling.facts, telling.operation
    cause = f"Cause: {facts.text('cause')}"
    if facts.flag("done"):
        act = "prop, call the engineer" if operation == STRIP else "clear it, call the engineer"
        lines = (f"Any release of {telling.what} is withdrawn: keep off, {act}.", cause, _CLEAR)
        return Phrase("KEEP OFF", f", {act}: {telling.what} withdrawn", f", {act}:", lines, _ANSWER)
    verdict = "KEEP FORMS ON" if operation == STRIP else "KEEP OFF"
    deed = _DEEDS.get(operation, "nothing goes ahead")
    lines = (f"Any release of {telling.what} is withdrawn: {deed}.", cause, _CLEAR)
    return Phrase(verdict, f", {deed}: {telling.what} withdrawn", f", {deed}:", lines, _ANSWER)


def _keep_off(telling: Telling) -> Phrase:
    facts = telling.facts
    bays = facts.listed("bays", facts.text("bay"))
    lines = (f"Keep off: {bays}", f"Cause: {facts.text('cause')}", _CLEAR)
    many = f"{max(1, len(facts.items('bays')))} bays, see the board"
    rest = f": {bays if len(bays) <= _MANY else many}"
    return Phrase("KEEP OFF", rest, ":", lines, ((f"Bays: {bays}", many), *_ANSWER, (facts.text("cause"), "")))


def _released_early(telling: Telling) -> Phrase:
    early = units.shown(telling.facts.number("hours_early"), "h", limit=True)
    rest = f" by {early}: {telling.what}"
    lines = (f"By today's evidence the release of {telling.what} came {early} before its requirement was met.",)
    return Phrase("TOO EARLY", rest, rest, lines, (("For the engineer", ""),))


PHRASES: Final[dict[MessageKind, Callable[[Telling], Phrase]]] = {
    MessageKind.SIGN_OFF_WANTED: _sign_off_wanted,
    MessageKind.RELEASED: _released,
    MessageKind.MET_NOT_SIGNED: _met_not_signed,
    MessageKind.COLD_DELAY: _cold_delay,
    MessageKind.FREEZE_SUSPECTED: _freeze_suspected,
    MessageKind.FREEZE_LOCKED: _freeze_locked,
    MessageKind.HOLD: _hold,
    MessageKind.LOGGER_SILENT: _logger_silent,
    MessageKind.WITHDRAWAL: _withdrawal,
    MessageKind.KEEP_OFF: _keep_off,
    MessageKind.RELEASED_EARLY: _released_early,
}
