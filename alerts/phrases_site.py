"""The words of what concerns the whole site: lists, covers, batteries, messages about messages, the test."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from alerts.facts import Facts
from alerts.gsm import Part, shortened
from alerts.phrase import FIRST, SECOND, THIRD, Block, Phrase, load_limits, optional
from alerts.telling import Telling

_NAMED: Final = 16
"""Longest name in the matter of a text."""


def cover_tonight(telling: Telling) -> Phrase:
    """Return which bays to cover, which of them first, and whether the covers suffice."""
    facts = telling.facts
    first = facts.text("first", telling.unknown)
    area = {
        "need": telling.shown("need_m2", "m2", limit=True),
        "stock": telling.shown("stock_m2", "m2", limit=False),
    }
    by_ms = facts.ms("by_ms")
    return Phrase(
        telling.say("cover-tonight"),
        telling.say("cover-tonight.matter", hour=telling.short(by_ms), first=shortened(first, _NAMED)),
        lines=(
            telling.say("cover-tonight.by", hour=telling.long(by_ms)),
            telling.say("cover-tonight.first", bay=first),
            telling.say("cover-tonight.area", **area),
        ),
        blocks=(_block(telling, "cover-tonight.list", [_to_cover(telling, row) for row in facts.rows("bays")]),),
        endings=(telling.part("end-area", FIRST, may_go=True, **area),),
    )


def _to_cover(telling: Telling, row: Facts) -> str:
    one = replace(telling, facts=Facts({**row.json, "units": telling.first}))
    return telling.say(
        "cover-tonight.bay",
        bay=one.text("bay"),
        pour=one.text("pour"),
        area=one.shown("area_m2", "m2", limit=True),
        low=one.shown("expected_low_c", "degC", limit=False),
        state=telling.say("cover-tonight.covered" if row.flag("covered") else "cover-tonight.bare"),
    )


def low_battery(telling: Telling) -> Phrase:
    """Return which loggers are short of power."""
    rows = [
        telling.say("item", what=row.text("logger", telling.unknown), value=_percent(telling, row))
        for row in telling.facts.rows("loggers")
    ]
    ending = telling.part("end-battery", FIRST, may_go=True, loggers=", ".join(rows)) if rows else Part(("",))
    return Phrase(
        telling.say("low-battery"),
        telling.say("low-battery.matter"),
        blocks=(_block(telling, "low-battery.list", rows),),
        endings=(ending,),
    )


def _percent(telling: Telling, row: Facts) -> str:
    percent = row.number("percent")
    return telling.unknown if percent is None else telling.say("percent", percent=f"{percent:.0f}")


def calibration(telling: Telling) -> Phrase:
    """Return the words of a calibration that is out of its checks or runs out."""
    return Phrase(
        telling.say("calibration"),
        telling.say("calibration.matter", mix=shortened(telling.text("mix"), _NAMED)),
        lines=(
            telling.say("item", what=telling.say("calibration"), value=telling.text("mix")),
            telling.say("reason", reason=telling.text("reason")),
            telling.say("helps", how=telling.text("how")),
        ),
        endings=(optional(telling, "reason", "reason", "end-reason", FIRST),),
    )


def delivery_failed(telling: Telling) -> Phrase:
    """Return who has not been reached with which number."""
    said = {"failed": telling.text("message"), "recipient": telling.text("recipient")}
    short = said | {"recipient": shortened(said["recipient"], _NAMED)}
    return Phrase(
        telling.say("delivery-failed"),
        telling.say("delivery-failed.matter", **short),
        lines=(
            telling.say("delivery-failed.line", **said),
            telling.say("delivery-failed.kind", kind=telling.text("kind")),
            telling.say("delivery-failed.why", why=telling.text("why")),
        ),
        endings=(optional(telling, "reason", "why", "end-reason", FIRST),),
    )


def channel_test(telling: Telling) -> Phrase:
    """Return the words of a test, which share nothing with any other kind's."""
    recipient = telling.text("recipient")
    return Phrase(
        telling.say("test"),
        telling.say("test.matter", recipient=shortened(recipient, _NAMED)),
        lines=(telling.say("test.line"), telling.say("test.channel", channel=telling.text("channel"))),
    )


def morning_list(telling: Telling) -> Phrase:
    """Return what is released and not done, and what is expected and not released."""
    return _list(telling, "morning-list", _look_first(telling))


def handover(telling: Telling) -> Phrase:
    """Return what the next shift takes over."""
    facts = telling.facts
    return _list(
        telling,
        "handover",
        _block(telling, "list-under-way", facts.items("under_way")),
        _block(telling, "list-holds", facts.items("holds")),
        _block(telling, "list-deliveries", facts.items("deliveries")),
        _look_first(telling),
    )


def _list(telling: Telling, key: str, *more: Block) -> Phrase:
    to_do, waiting = telling.facts.rows("released"), telling.facts.rows("expected")
    first = telling.facts.items("look_first")
    look = telling.part("end-reason", THIRD, may_go=True, reason=first[0]) if first else Part(("",))
    return Phrase(
        telling.say(key),
        telling.say(f"{key}.matter"),
        blocks=(
            _block(telling, "list-released", [_permit(telling, row) for row in to_do]),
            _block(telling, "list-expected", [_waits(telling, row) for row in waiting]),
            *more,
        ),
        endings=(
            telling.part("end-to-do", FIRST, may_go=True, count=len(to_do)),
            telling.part("end-waiting", SECOND, may_go=True, count=len(waiting)),
            look,
        ),
    )


def _look_first(telling: Telling) -> Block:
    return _block(telling, "list-look-first", telling.facts.items("look_first"))


def _permit(telling: Telling, row: Facts) -> str:
    """Return a release in a list, with what limits it before what it permits."""
    one = replace(telling, facts=Facts({**row.json, "units": telling.first}))
    excluded = one.exclusions
    limited = [part.wordings[0] for part in load_limits(one)]
    apart = telling.say("apart", where=excluded) if excluded else ""
    return telling.say(
        "list-permit",
        bay=one.text("bay"),
        pour=one.text("pour"),
        limits="".join([*limited, apart]),
        what=one.what,
        hour=telling.long(row.ms("since_ms")),
    )


def _waits(telling: Telling, row: Facts) -> str:
    one, expected = replace(telling, facts=row), row.ms("expected_ms")
    hour = telling.say("list-no-hour") if expected is None else telling.long(expected, up=True)
    said = {"bay": one.text("bay"), "pour": one.text("pour"), "what": one.what, "cause": one.text("cause")}
    return telling.say("list-waits", hour=hour, **said)


def _block(telling: Telling, heading: str, lines: list[str] | tuple[str, ...]) -> Block:
    known = tuple(map(telling.voice.known, lines))
    return Block(telling.say(heading), known or (telling.say("none"),))
