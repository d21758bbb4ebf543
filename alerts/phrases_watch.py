"""The words of what is watched: cold and heat, freezing, holds, loggers."""

from __future__ import annotations

from alerts.gsm import Part, shortened
from alerts.phrase import FIRST, SECOND, THIRD, Phrase, optional
from alerts.telling import Telling, slug

_LONGEST_HOLD = 30
_LONGEST_SENSOR = 24
WAYS = ("saves", "helps")
"""Of what can be done: what brings the hour back by the forecast, and what nobody has reckoned."""


def cold_delay(telling: Telling) -> Phrase:
    """Return the words of an hour that cold moves; an expected hour is never more than that."""
    limit = telling.shown("limit_c", "degC", limit=True)
    lines = (
        *_shifts(telling),
        telling.say("cold-delay.plan", hour=telling.long(telling.facts.ms("plan_ms"))),
        _expected(telling),
        telling.say("cold-delay.counted", limit=limit, found=telling.shown("counted_h", "h", limit=False)),
        telling.say("cold-delay.clock", found=telling.shown("clock_h", "h", limit=False)),
        telling.say("cold-delay.coldest", found=telling.shown("coldest_c", "degC", limit=False)),
        telling.say("cause", cause=telling.text("cause")),
    )
    matter = telling.say("cold-delay.matter", what=telling.what)
    return Phrase(telling.say("cold-delay"), matter, lines=lines, endings=tuple(_delay_endings(telling)))


def _expected(telling: Telling) -> str:
    expected = telling.facts.ms("expected_ms")
    if expected is None:
        return telling.say("cold-delay.no-hour")
    return telling.say("cold-delay.expected", hour=telling.long(expected, up=True))


def _shifts(telling: Telling) -> list[str]:
    """Return what the cold does to the shifts, where somebody wanted an hour."""
    facts, lines = telling.facts, []
    if facts.ms("wanted_ms") is not None:
        lines.append(telling.say("cold-delay.wanted", hour=telling.long(facts.ms("wanted_ms"))))
    if facts.ms("to_shift_ms") is not None:
        way = "back" if facts.text("moved", "") == "back" else "later"
        hours = {"from": telling.long(facts.ms("from_shift_ms")), "to": telling.long(facts.ms("to_shift_ms"))}
        lines.append(telling.say(f"cold-delay.{way}", **hours))
    for way in WAYS:
        if facts.text(way, ""):
            hour = telling.long(facts.ms("saves_by_ms"))
            lines.append(telling.say(f"cold-delay.{way}", act=_saving(telling, facts.text(way)), hour=hour))
    if in_vain := facts.items("in_vain"):
        lines.append(telling.say("cold-delay.in-vain", acts=", ".join(_saving(telling, act) for act in in_vain)))
    if (cover := facts.number("help_cover_m2_k_per_w")) is not None:
        below = telling.shown("help_below_c", "degC", limit=False)
        lines.append(telling.say("cold-delay.reckoned", cover=f"{cover:g}", below=below))
    return lines


def _delay_endings(telling: Telling) -> list[Part]:
    facts, expected = telling.facts, telling.facts.ms("expected_ms")
    hour = telling.short(expected, up=True)
    endings = [telling.part("end-no-hour") if expected is None else telling.part("end-expected", FIRST, hour=hour)]
    for way in WAYS:
        if facts.text(way, ""):
            by, act = telling.short(facts.ms("saves_by_ms")), _saving(telling, facts.text(way))
            endings.append(telling.part(f"end-{way}", SECOND, may_go=True, act=act, hour=by))
    if facts.ms("to_shift_ms") is not None:
        way = "back" if facts.text("moved", "") == "back" else "later"
        endings.append(telling.part(f"end-{way}", THIRD, may_go=True, to=telling.short(facts.ms("to_shift_ms"))))
    return endings


def _saving(telling: Telling, act: str) -> str:
    key = f"saves-{slug(act)}"
    return telling.say(key) if telling.voice.has(key) else act


def held(telling: Telling) -> Phrase:
    """Return the words of a hold: what it stops, whose it is, how it is lifted."""
    key = slug(telling.message.kind.name)
    hold = shortened(telling.text("hold"), _LONGEST_HOLD)
    return Phrase(
        telling.say(key),
        telling.say(f"{key}.matter", hold=hold),
        lines=(
            telling.say("reason", reason=telling.text("reason")),
            _owner(telling),
            telling.say("how", how=telling.text("how")),
        ),
        endings=(
            telling.part("end-owner", FIRST, may_go=True, owner=telling.text("owner")),
            telling.part("end-reason", THIRD, may_go=True, reason=telling.text("reason")),
        ),
    )


def _owner(telling: Telling) -> str:
    people = ", ".join(telling.facts.items("owner_people"))
    owner = telling.text("owner")
    return telling.say("owner-people", owner=owner, people=people) if people else telling.say("owner", owner=owner)


def _sensor(telling: Telling) -> str:
    return telling.facts.text("sensor", telling.message.subject or telling.unknown)


def _required(telling: Telling, key: str) -> str:
    return telling.say(f"{key}.required" if telling.facts.flag("required") else f"{key}.other")


def logger_silent(telling: Telling) -> Phrase:
    """Return the words of a sensor that has said nothing for too long."""
    newest = telling.facts.ms("newest_ms")
    line = telling.say("logger-silent.never")
    ending = telling.part("end-none-has-come", FIRST, may_go=True)
    if newest is not None:
        line = telling.say("logger-silent.newest", hour=telling.long(newest))
        ending = telling.part("end-newest", FIRST, may_go=True, hour=telling.short(newest))
    return Phrase(
        telling.say("logger-silent"),
        telling.say("logger-silent.matter", sensor=shortened(_sensor(telling), _LONGEST_SENSOR)),
        lines=(line, _required(telling, "logger-silent")),
        endings=(ending,),
    )


def logger_doubtful(telling: Telling) -> Phrase:
    """Return the words of a sensor whose readings are not believed."""
    return Phrase(
        telling.say("logger-doubtful"),
        telling.say("logger-doubtful.matter", sensor=shortened(_sensor(telling), _LONGEST_SENSOR)),
        lines=(telling.say("reason", reason=telling.text("reason")), _required(telling, "logger-doubtful")),
        endings=(optional(telling, "reason", "reason", "end-reason", FIRST),),
    )


def too_hot(telling: Telling) -> Phrase:
    """Return the words of concrete above its highest temperature: found is rounded up, the limit down."""
    said = {
        "found": telling.shown("found_c", "degC", limit=True),
        "limit": telling.shown("limit_c", "degC", limit=False),
    }
    return Phrase(
        telling.say("too-hot"),
        telling.say("too-hot.matter", **said),
        lines=(telling.say("too-hot.line", sensor=_sensor(telling), **said),),
        endings=(telling.part("end-reason", SECOND, may_go=True, reason=_sensor(telling)),),
    )


def too_steep(telling: Telling) -> Phrase:
    """Return the words of too great a temperature difference or drop: found is rounded up, the limit down."""
    said = {
        "found": telling.shown("found_c", "degC apart", limit=True),
        "limit": telling.shown("limit_c", "degC apart", limit=False),
    }
    return Phrase(
        telling.say("too-steep"),
        telling.say("too-steep.matter", **said),
        lines=(telling.say("too-steep.line", **said), telling.say("reason", reason=telling.text("reason"))),
        endings=(optional(telling, "reason", "reason", "end-reason", SECOND),),
    )


def freezing_ahead(telling: Telling) -> Phrase:
    """Return the words of freezing to be expected: what to do stands in the short text too."""
    from_ms, chance = telling.facts.ms("from_ms"), telling.facts.number("chance_percent")
    percent = "" if chance is None else f"{chance:.0f}"
    coldest = telling.shown("coldest_c", "degC", limit=False)
    lines = [
        telling.say("freezing-ahead.from", hour=telling.long(from_ms)),
        telling.say("freezing-ahead.coldest", found=coldest),
        telling.say("helps", how=telling.text("how")),
    ]
    endings = [
        optional(telling, "reason", "how", "end-reason", FIRST),
        telling.part("end-coldest", SECOND, may_go=True, found=coldest),
    ]
    if percent:
        lines.insert(1, telling.say("freezing-ahead.chance", percent=percent))
        endings.insert(1, telling.part("end-chance", SECOND, may_go=True, percent=percent))
    matter = telling.say("freezing-ahead.matter", hour=telling.short(from_ms))
    return Phrase(telling.say("freezing-ahead"), matter, lines=tuple(lines), endings=tuple(endings))


def drying_risk(telling: Telling) -> Phrase:
    """Return the words of a surface that may dry out."""
    return Phrase(
        telling.say("drying-risk"),
        telling.say("drying-risk.matter"),
        lines=(
            telling.say("reason", reason=telling.text("reason")),
            telling.say("helps", how=telling.text("how")),
        ),
        endings=(
            optional(telling, "reason", "reason", "end-reason", FIRST),
            optional(telling, "reason", "how", "end-reason", SECOND),
        ),
    )
