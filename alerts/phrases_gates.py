"""The words of what opens and shuts: releases and requests, withdrawals, "keep off", a status in doubt."""

from __future__ import annotations

from alerts.gsm import Part
from alerts.phrase import FIRST, FOURTH, MANY, SECOND, THIRD, Phrase, limits, optional
from alerts.telling import Telling, slug
from shared.models.base import STRIP


def released(telling: Telling) -> Phrase:
    """Return the words of a release."""
    return Phrase(
        telling.say("released"),
        telling.say("released.matter", what=telling.what),
        limits(telling),
        (telling.say("released.signed", who=telling.listed("signers")),),
        endings=(_shut(telling), _until(telling)),
    )


def met_not_signed(telling: Telling) -> Phrase:
    """Return the words of a requirement that is met and that nobody signs."""
    others = telling.others_not_released
    still = telling.part("end-still-shut", SECOND, may_go=True, others=", ".join(others)) if others else Part(("",))
    return Phrase(
        telling.say("met-not-signed"),
        telling.say("met-not-signed.matter", what=telling.what),
        (telling.part("limit-met", FIRST), *limits(telling)),
        (telling.say("met-not-signed.line"),),
        endings=(still, _until(telling)),
    )


def sign_off_wanted(telling: Telling) -> Phrase:
    """Return the words of a request to sign, which permits nothing."""
    roles = telling.listed("roles")
    return Phrase(
        telling.say("sign-off-wanted"),
        telling.say("sign-off-wanted.matter", what=telling.what),
        lines=(
            telling.say("sign-off-wanted.line", what=telling.what),
            *_stripped(telling),
            telling.say("sign-off-wanted.wanted", count=telling.text("sign_offs"), roles=roles),
            telling.say("sign-off-wanted.command", command=telling.text("sign_command")),
        ),
        endings=(telling.part("end-by", FIRST, may_go=True, roles=roles),),
    )


def _stripped(telling: Telling) -> list[str]:
    """Return what taking the forms off in the cold would do, where that is foreseen."""
    percent = telling.facts.number("stripped_percent")
    if percent is None:
        return []
    load_ms = telling.facts.ms("stripped_load_ms")
    said = {
        "percent": f"{percent:.0f}",
        "coldest": telling.shown("stripped_coldest_c", "degC", limit=False),
        "cold": telling.shown("stripped_cold_c", "degC", limit=True),
        "strong": telling.shown("stripped_strong_mpa", "MPa", limit=True),
        "load": telling.say("sign-off-wanted.later") if load_ms is None else telling.long(load_ms, up=True),
    }
    return [telling.say("sign-off-wanted.stripped", **said)]


def _shut(telling: Telling) -> Part:
    """Return which other operations are not released."""
    others = telling.others_not_released
    if not others:
        return Part(("",))
    said, slashed = ", ".join(others), "/".join(others)
    return telling.part("end-shut", SECOND, others=said, slashed=slashed, count=len(others))


def _until(telling: Telling) -> Part:
    until = telling.message.valid_until_ms
    if until is None:
        return Part(("",))
    return telling.part("end-until", FOURTH, may_go=True, hour=telling.short(until))


def withdrawal(telling: Telling) -> Phrase:
    """Return the words of a withdrawal; after the deed they say what to do about it."""
    done, operation = telling.facts.flag("done"), telling.operation
    verdict = "withdrawal.done" if done else "withdrawal.strip" if operation == STRIP else "withdrawal"
    key = f"withdrawal.{'act' if done else 'deed'}"
    own = f"{key}-{slug(operation) if operation else 'whole'}"
    return Phrase(
        telling.say(verdict),
        telling.say(own if telling.voice.has(own) else key, what=telling.what),
        lines=(
            telling.say("withdrawal.line", what=telling.what),
            telling.say("cause", cause=telling.text("cause")),
            _to_confirm(telling),
        ),
        endings=(
            telling.part("end-withdrawn", FOURTH, may_go=True, cause=telling.text("cause")),
            telling.part("end-confirm", THIRD, may_go=True),
        ),
    )


def keep_off(telling: Telling) -> Phrase:
    """Return the words that keep people off bays, whatever is released there."""
    bays = telling.facts.items("bays") or (telling.facts.text("bay", telling.unknown),)
    many = telling.say("keep-off.many", count=len(bays))
    listed = telling.say("keep-off.bays", bays=", ".join(bays))
    which = Part((listed, many) if len(listed) <= MANY else (many,), FIRST)
    cause = telling.say("keep-off.cause", cause=telling.text("cause"))
    return Phrase(
        telling.say("keep-off"),
        telling.say("keep-off.matter"),
        (which, Part((cause, ""), SECOND)),
        (
            telling.say("keep-off.list", bays=", ".join(bays)),
            telling.say("cause", cause=telling.text("cause")),
            telling.say("keep-off.line"),
            _to_confirm(telling),
        ),
        endings=(telling.part("end-confirm", THIRD, may_go=True),),
    )


def _to_confirm(telling: Telling) -> str:
    return telling.say("to-confirm", no=str(telling.message.no))


def released_early(telling: Telling) -> Phrase:
    """Return the words for the engineer when a release came before its requirement was met."""
    said = {"early": telling.shown("hours_early", "h", limit=True), "what": telling.what}
    return Phrase(
        telling.say("released-early"),
        telling.say("released-early.matter", **said),
        lines=(telling.say("released-early.line", **said),),
        endings=(telling.part("end-engineer", FIRST, may_go=True),),
    )


def in_doubt(telling: Telling) -> Phrase:
    """Return the words when the service doubts itself: nothing that it said is taken back, nothing is relied on."""
    return Phrase(
        telling.say("in-doubt"),
        telling.say("in-doubt.matter"),
        lines=(
            telling.say("in-doubt.line"),
            telling.say("reason", reason=telling.text("reason")),
            telling.say("helps", how=telling.text("how")),
        ),
        endings=(optional(telling, "reason", "reason", "end-reason", FIRST),),
    )
