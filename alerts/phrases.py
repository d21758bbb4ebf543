"""What each kind of message says: its verdict, what limits it, what it is about, and the lines that only it has.

The verdict stands first and carries its negation, and what limits a permission stands before what it permits: no
beginning of a text reads as a permission that it is not, or as a wider one than it is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from alerts.facts import UNKNOWN
from alerts.gsm import Part, shortened
from alerts.hours import long_hour, short_hour
from alerts.telling import Telling
from shared import units
from shared.models.base import LOAD, STRIP, WALK
from shared.models.messages import MessageKind

_DEEDS: Final[dict[str, tuple[str, str]]] = {
    STRIP: ("do not strip", "do not strip it"),
    WALK: ("do not walk on", "do not walk on it"),
    LOAD: ("do not load", "do not load it"),
    "": ("nothing goes ahead:", "nothing goes ahead"),
}
"""What a withdrawal forbids: before the name of a bay, and in a sentence."""
_ACTS: Final[dict[str, str]] = {STRIP: "prop, call the engineer"}
_MANY: Final = 48
"""Longest list of bays in a subject or a short text."""
_FIRST, _SECOND, LABELS, _THIRD, _FOURTH = range(1, 6)
"""Which part of a short text gets the room first, after the names."""
_CONFIRM: Final = Part((". Confirm when clear", ""), _THIRD)


@dataclass(frozen=True, slots=True)
class Phrase:
    """The words that differ by kind."""

    verdict: str
    matter: str
    """What it is about, up to the name of the bay."""
    limits: tuple[Part, ...] = ()
    """Stand between the two."""
    lines: tuple[str, ...] = ()
    endings: tuple[Part, ...] = ()
    """Of the short text, after its number."""


def construction_load(telling: Telling) -> str:
    """Return the construction load in words; a limit for people is rounded down."""
    load = telling.facts.number("load_kpa")
    return UNKNOWN if load is None else f"at most {units.shown(load, 'kPa', first=telling.first, limit=False)}"


def _limits(telling: Telling) -> tuple[Part, ...]:
    """Return what limits a permission: the load, and the places where it does not hold."""
    excluded = telling.exclusions
    apart = Part((f" (excluded: {excluded})", " (exclusions apply)", " (exclusions)") if excluded else ("",), _FIRST)
    if telling.operation == LOAD:
        most = construction_load(telling).partition(" (")[0].removeprefix("at most ")
        spread = Part((", spread load, no wheels, stacks or form bundles", ", no wheels/stacks"), _THIRD)
        return Part((f", max {most}",)), spread, apart
    return Part((", no added load" if telling.operation in {STRIP, WALK} else "",)), apart


def _shut(telling: Telling) -> Part:
    """Return which other operations are not released."""
    others = telling.others_not_released
    said = f". NOT released: {', '.join(others)}", f". NOT {'/'.join(others)}", f". {len(others)} shut"
    return Part(said if others else ("",), _SECOND)


def _void(telling: Telling) -> Part:
    until = telling.message.valid_until_ms
    return Part(("",) if until is None else (f". Until {short_hour(until, telling.zone)}", ""), _FOURTH)


def _released(telling: Telling) -> Phrase:
    lines = (f"Signed by: {telling.facts.listed('signers', UNKNOWN)}",)
    return Phrase("RELEASED", f": {telling.what} bay", _limits(telling), lines, (_shut(telling), _void(telling)))


def _met_not_signed(telling: Telling) -> Phrase:
    lines = ("Nobody has signed: by this site's policy the requirement being met is all that this message says.",)
    others = telling.others_not_released
    shut = Part((f". Still shut: {', '.join(others)}", "") if others else ("",), _SECOND)
    limits = (Part((", requirement met", ", met"), _FIRST), *_limits(telling))
    return Phrase("NOT SIGNED", f": {telling.what} bay", limits, lines, (shut, _void(telling)))


def _sign_off_wanted(telling: Telling) -> Phrase:
    facts = telling.facts
    lines = (
        f"The requirement for {telling.what} is met. Nothing goes ahead before it is signed.",
        f"Sign-offs wanted: {facts.text('sign_offs')}, by: {facts.listed('roles', UNKNOWN)}",
        f"To sign: {facts.text('sign_command')}",
    )
    by = Part((f". By: {facts.listed('roles', UNKNOWN)}", ""), _FIRST)
    return Phrase("NOT RELEASED", f", sign-off wanted: {telling.what} bay", lines=lines, endings=(by,))


def _cold_delay(telling: Telling) -> Phrase:
    facts, zone, first = telling.facts, telling.zone, telling.first
    expected = facts.ms("expected_ms")
    hour = "no hour can be named while it stays this cold"
    ending = Part((". No hour while it stays this cold",))
    if expected is not None:
        hour = f"{long_hour(expected, zone, up=True)}, NOT RELEASED, wait for release"
        short = f". Exp. {short_hour(expected, zone, up=True)}"
        ending = Part((f"{short}, wait for release", short), _FIRST)
    limit = units.shown(facts.number("limit_c"), "degC", first=first, limit=True)
    lines = (
        f"By the plan's clock hours: {long_hour(facts.ms('plan_ms'), zone)}",
        f"Expected: {hour}",
        f"Counted hours, at or above {limit}: {_hours(telling, 'counted_h')}",
        f"Hours by the clock: {_hours(telling, 'clock_h')}",
        f"Coldest concrete: {units.shown(facts.number('coldest_c'), 'degC', first=first, limit=False)}",
        f"Cause: {facts.text('cause')}",
    )
    return Phrase("COLD DELAY", f", not released: {telling.what} bay", lines=lines, endings=(ending,))


def _hours(telling: Telling, key: str) -> str:
    return units.shown(telling.facts.number(key), "h", limit=False)


def _held(telling: Telling, verdict: str, matter: str) -> Phrase:
    facts = telling.facts
    lines = (
        f"Reason: {facts.text('reason')}",
        f"Owner: {facts.text('owner')}",
        f"To lift it: {facts.text('how')}",
    )
    endings = Part((f". Owner: {facts.text('owner')}", ""), _FIRST), Part((f". {facts.text('reason')}", ""), _THIRD)
    return Phrase(verdict, f"{matter}: bay", lines=lines, endings=endings)


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
    sensor = shortened(facts.text("sensor", telling.message.subject or UNKNOWN), 24)
    ending = ". None has come" if newest is None else f". Newest {short_hour(newest, telling.zone)}"
    return Phrase("NO READINGS:", f" {sensor}, bay", lines=lines, endings=(Part((ending, ""), _FIRST),))


def _withdrawal(telling: Telling) -> Phrase:
    facts, operation = telling.facts, telling.operation
    done = facts.flag("done")
    act = _ACTS.get(operation, "clear it, call the engineer")
    deed, sentence = _DEEDS.get(operation, (f"no {telling.what}:", f"no {telling.what}"))
    lines = (
        f"Any release of {telling.what} is withdrawn: {f'keep off, {act}' if done else sentence}.",
        f"Cause: {facts.text('cause')}",
        _to_confirm(telling),
    )
    endings = Part((f". Withdrawn: {facts.text('cause')}", ". Withdrawn"), _FOURTH), _CONFIRM
    if done:
        return Phrase("KEEP OFF", f", {act}: bay", lines=lines, endings=endings)
    verdict = "KEEP FORMS ON" if operation == STRIP else "KEEP OFF"
    return Phrase(verdict, f", {deed} bay", lines=lines, endings=endings)


def _keep_off(telling: Telling) -> Phrase:
    facts = telling.facts
    bays = facts.items("bays") or (facts.text("bay"),)
    listed, count = f" {', '.join(bays)}", f" {len(bays)} bays, see the board"
    which = Part((listed, count) if len(listed) <= _MANY else (count,), _FIRST)
    cause = Part((f": {facts.text('cause')}", ""), _SECOND)
    lines = (
        f"Keep off: {', '.join(bays)}",
        f"Cause: {facts.text('cause')}",
        "While this stands no release to walk on these bays or to load them holds.",
        _to_confirm(telling),
    )
    return Phrase("KEEP OFF", ". Bay", (which, cause), lines, (_CONFIRM,))


def _to_confirm(telling: Telling) -> str:
    return (
        f"When the area is clear: slabhour confirm {telling.message.no} --who YOU. "
        "This repeats every 5 minutes until a person does."
    )


def _released_early(telling: Telling) -> Phrase:
    early = units.shown(telling.facts.number("hours_early"), "h", limit=True)
    lines = (f"By today's evidence the release of {telling.what} came {early} before its requirement was met.",)
    matter = f" by {early}: {telling.what} bay"
    return Phrase("TOO EARLY", matter, lines=lines, endings=(Part((". For the engineer", ""), _FIRST),))


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
