"""Loggers: how each does and where it lies; placing, taking out and trying one; what was refused, and again."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, TypeVar

from pydantic import ValidationError
from starlette.responses import Response

from cure.dashboard.accounted import missing_words
from cure.dashboard.answers import see_other
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.beside import LoggersSeen
from cure.dashboard.faults import faults_said
from cure.dashboard.pour_pages import earlier_ms
from cure.dashboard.rendering import page, problem
from cure.dashboard.rules import may
from cure.first_reading import Found, verdict
from cure.loggers import LoggerRow, Standing, is_low, is_weak, logger_of
from shared.errors import ActRefusedError
from shared.models.acts import PlaceSensor, RemoveSensor, ScreenAgain, instant
from shared.models.base import MINUTE_MS, Ms, SensorId
from shared.models.decisions import Placement
from shared.models.readings import Refusal
from shared.models.setup import Zone

MadeT = TypeVar("MadeT", PlaceSensor, RemoveSensor, ScreenAgain)
AT_ONCE: Final = 100
"""Sensors on a page."""
MOST_REFUSED: Final = 20
"""Shown of what stands refused, the newest."""
FIRST_BYTES: Final = 80
"""Shown of a refused message."""
SENSOR: Final = re.compile(r"^[a-z0-9-]{1,32}\.[0-9]{1,2}$")
NAMED: Final = re.compile(r"[a-z0-9-]{1,32}(\.[0-9]{1,2})?")
"""A logger, or a sensor of it."""
LONGEST_HELD_MS: Final = 60 * MINUTE_MS
SHAPES: Final[Mapping[Standing, str]] = {
    Standing.ALIVE: "tick",
    Standing.SILENT: "octagon",
    Standing.NEVER_HEARD: "ring",
    Standing.NOT_PLACED: "doubt",
}
"""One line a standing."""
FOUND_SHAPES: Final[Mapping[Found, str]] = {Found.OK: "tick", Found.NOT_YET: "clock", Found.NOT_OK: "octagon"}


@dataclass(frozen=True, slots=True)
class Line:
    """One sensor as the page shows it."""

    name: str
    logger: str
    """"": a topic that names none."""
    shape: str
    standing: str
    where: str
    told: str
    """Heard, last value, battery, signal."""
    to_do: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RefusedLine:
    """One refused message."""

    hour: str
    of: str
    reason: str
    detail: str
    begins: str


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", "/loggers"): lambda asked: _found(parts, asked),
        ("POST", "/loggers/again"): lambda asked: _again(parts, asked),
        ("GET", "/logger/{logger}"): lambda asked: _one(parts, asked),
        ("POST", "/logger/{logger}/place"): lambda asked: _act(parts, asked, _place),
        ("POST", "/logger/{logger}/remove"): lambda asked: _act(parts, asked, _remove),
    }


def ago(asked: Asked, span_ms: int) -> str:
    """Return a span of time as people say it."""
    for unit_ms, unit in ((24 * 60 * MINUTE_MS, "days"), (60 * MINUTE_MS, "hours"), (MINUTE_MS, "minutes")):
        if span_ms >= 2 * unit_ms:
            return asked.reader.say(f"span-{unit}", count=str(span_ms // unit_ms))
    return asked.reader.say("span-seconds", count=str(max(0, span_ms) // 1000))


def _found(parts: Parts, asked: Asked) -> Response:
    """Return the list, or the way to the logger whose name was given, with a sensor's number or without."""
    given = asked.query.get("logger", "").strip().lower()
    if not given:
        return _list(parts, asked)
    if not NAMED.fullmatch(given):
        return _list(parts, asked, [asked.reader.say("wrong-logger")])
    return see_other(f"/logger/{logger_of(given)}")


def _list(parts: Parts, asked: Asked, wrong: Sequence[str] = (), again: str = "") -> Response:
    seen, after = parts.beside.loggers(), asked.query.get("after", "")
    standing, refused = parts.board.standing_refusals(MOST_REFUSED)
    counts = {one: sum(row.standing is one for row in seen.rows) for one in Standing}
    rows = _worst_first(seen.rows)
    begin = next((n for n, row in enumerate(rows, 1) if row.name == after), 0)
    shown = rows[begin : begin + AT_ONCE]
    return page(
        asked,
        "loggers.html",
        status=422 if wrong else 200,
        lines=_lines(parts, shown, seen, asked),
        after=shown[-1].name if begin + AT_ONCE < len(rows) else "",
        counts=[(asked.reader.say(f"standing-{_key(one)}"), many) for one, many in counts.items() if many],
        refused=[_refused(r, asked) for r in refused],
        standing=standing,
        lately=seen.refused.get(""),
        may_place=may("POST", "/logger/{logger}/place", asked.visitor.comer),
        wrong=list(wrong),
        again=again,
    )


def _lines(parts: Parts, rows: Sequence[LoggerRow], seen: LoggersSeen, asked: Asked) -> list[Line]:
    """Return the lines of these rows, with the newest value of each: of those that are shown alone it is read."""
    newest = parts.beside.newest([SensorId(row.name) for row in rows])
    return [_line(replace(row, milli_c=newest.get(SensorId(row.name), row.milli_c)), seen, asked) for row in rows]


def _worst_first(rows: Sequence[LoggerRow]) -> list[LoggerRow]:
    order = (Standing.SILENT, Standing.NEVER_HEARD, Standing.NOT_PLACED, Standing.ALIVE)
    return sorted(rows, key=lambda row: order.index(row.standing))


def _key(word: str) -> str:
    return re.sub(r"[^a-z]+", "-", word.lower())


def _line(row: LoggerRow, seen: LoggersSeen, asked: Asked) -> Line:
    say = asked.reader.say
    told = [
        say("never-heard") if row.heard_ms is None else say("heard-ago", span=ago(asked, asked.now - row.heard_ms)),
        "" if row.milli_c is None else asked.reader.number(row.milli_c / 1000, "degC"),
        "" if row.battery_percent is None else say("battery", percent=f"{row.battery_percent:.0f}"),
        "" if row.signal_db is None else say("signal", db=f"{row.signal_db:.0f}"),
    ]
    named = NAMED.fullmatch(row.name) is not None
    return Line(
        row.name,
        logger_of(row.name) if named else "",
        SHAPES[row.standing],
        say(f"standing-{_key(row.standing)}"),
        "" if row.placement is None else _where(row.placement, asked),
        ", ".join(filter(None, told)),
        tuple(_to_do(row, seen, asked)),
    )


def _to_do(row: LoggerRow, seen: LoggersSeen, asked: Asked) -> list[str]:
    """Return what to do, in the order in which it helps: the same as the command's list says."""
    say, found = asked.reader.say, []
    tally = seen.refused.get(row.name) or seen.refused.get(logger_of(row.name))
    if row.standing is Standing.NOT_PLACED:
        found.append(say("do-place"))
    elif tally is not None and tally.reason != "unknown sensor":
        found.append(say("do-refused", reason=asked.reader.known(tally.reason)))
    elif row.standing is Standing.NEVER_HEARD:
        found.append(say("do-switch-on"))
    if row.standing is Standing.SILENT:
        found.append(say("do-look"))
    wanted = (("do-battery", is_low(row.battery_percent)), ("do-signal", is_weak(row.signal_db)))
    return [*found, *(say(key) for key, so in wanted if so)]


def _where(placement: Placement, asked: Asked) -> str:
    deep = "" if placement.depth_mm is None else asked.reader.number(float(placement.depth_mm), "mm")
    bay = f"{asked.reader.say('bay')} {placement.bay}"
    return ", ".join(filter(None, (bay, asked.reader.known(placement.zone.value), deep, placement.position or "")))


def _refused(refusal: Refusal, asked: Asked) -> RefusedLine:
    one = refusal.refused
    begins = one.payload[:FIRST_BYTES].decode("utf-8", "backslashreplace")
    begins = "".join(c if c.isprintable() else " " for c in begins)
    hour = asked.reader.hour(one.received_ms, asked.now)
    return RefusedLine(hour, one.sensor or one.topic, asked.reader.known(one.reason), one.detail, begins)


def _again(parts: Parts, asked: Asked) -> Response:
    sensor, why = asked.one("sensor"), asked.one("why")
    if not why or (sensor and not SENSOR.match(sensor)):
        return _list(parts, asked, [asked.reader.say("wrong-mended")])
    before, _ = parts.board.standing_refusals(0)
    try:
        parts.apply(_made(ScreenAgain, asked, sensor=sensor or None, why=why))
    except ActRefusedError as error:
        return _list(parts, asked, [asked.reader.known(str(error))])
    left, _ = parts.board.standing_refusals(0)
    return _list(parts, asked, again=asked.reader.say("again-done", answered=str(before - left), left=str(left)))


def _one(parts: Parts, asked: Asked, wrong: Sequence[str] = ()) -> Response:
    logger = asked.path["logger"]
    if not re.fullmatch(r"[a-z0-9-]{1,32}", logger):
        return problem(asked, "no-logger", status=404)
    seen = parts.beside.loggers()
    rows = [row for row in seen.rows if logger_of(row.name) == logger]
    tried = parts.beside.check(logger)
    known = sorted({*tried, *(row.name for row in rows if "." in row.name)})
    return page(
        asked,
        "logger.html",
        status=422 if wrong else 200,
        logger=logger,
        lines=_lines(parts, rows, seen, asked),
        missing=missing_words(parts.board.missing(), logger, asked.reader),
        tried=[(sensor, _verdict(found, asked), _said(found, asked)) for sensor, found in sorted(tried.items())],
        known=known,
        lies=[row.name for row in rows if row.placement is not None],
        hand=_hand(parts, asked, known),
        given=lambda name, usual="": asked.one(name) or usual,
        zones=list(Zone),
        now_ms=asked.now,
        may_place=may("POST", "/logger/{logger}/place", asked.visitor.comer),
        wrong=list(wrong),
    )


def _verdict(found: Sequence[Any], asked: Asked) -> tuple[str, str]:
    worst = verdict(found)
    return FOUND_SHAPES[worst], asked.reader.say(f"found-{_key(worst)}")


def _said(found: Sequence[Any], asked: Asked) -> list[tuple[str, str, str]]:
    return [(FOUND_SHAPES[c.found], asked.reader.say(f"check-{c.name}"), asked.reader.checked(c.text)) for c in found]


def _hand(parts: Parts, asked: Asked, known: Sequence[str]) -> tuple[str, str, str, Ms] | None:
    """Return how the check by hand stands that the address tells of: sensor, shape, text, since when."""
    sensor, since = asked.query.get("held", ""), asked.query.get("since", "")
    if sensor not in known or not re.fullmatch(r"[0-9]{1,15}", since):
        return None
    began = int(since)
    if not asked.now - LONGEST_HELD_MS <= began <= asked.now:
        return None
    warmth = parts.beside.warmth(SensorId(sensor), began)
    return sensor, FOUND_SHAPES[warmth.found], asked.reader.checked(warmth.text), began


def _act(parts: Parts, asked: Asked, make: Callable[[Asked], PlaceSensor | RemoveSensor]) -> Response:
    logger = asked.path["logger"]
    try:
        if not SENSOR.match(asked.one("sensor")) or logger_of(asked.one("sensor")) != logger:
            raise ActRefusedError(asked.reader.say("wrong-sensor", logger=logger))
        parts.apply(make(asked))
    except ActRefusedError as error:
        return _one(parts, asked, [asked.reader.known(str(error))])
    return see_other(f"/logger/{logger}")


def _made(act: Callable[..., MadeT], asked: Asked, **fields: Any) -> MadeT:
    try:
        return act(at=instant(asked.now), who=str(asked.visitor.person), **fields)
    except ValidationError as error:
        raise ActRefusedError(faults_said(error, asked.reader)) from error


def _whole(asked: Asked, name: str) -> int | None:
    text = asked.one(name)
    if text and not re.fullmatch(r"[0-9]{1,5}", text):
        raise ActRefusedError(asked.reader.say("wrong-number", what=asked.reader.say(name.replace("_", "-"))))
    return int(text) if text else None


def _place(asked: Asked) -> PlaceSensor:
    at_ms, required = earlier_ms(asked), asked.one("required")
    return _made(
        PlaceSensor,
        asked,
        sensor=asked.one("sensor"),
        bay=asked.one("bay"),
        zone=asked.one("zone"),
        position=asked.one("position") or None,
        depth_mm=_whole(asked, "depth_mm"),
        interval_s=_whole(asked, "interval_s"),
        required={"yes": True, "no": False}.get(required),
        happened=None if at_ms is None else instant(at_ms),
        second_person=asked.one("second_person") or None,
        why=asked.one("why") or None,
    )


def _remove(asked: Asked) -> RemoveSensor:
    second, why = asked.one("second_person") or None, asked.one("why")
    return _made(RemoveSensor, asked, sensor=asked.one("sensor"), second_person=second, why=why)
