"""Loggers for other software: the list a page at a time, one logger with its first-reading check, refused messages."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import Annotated, Any, Final

from fastapi import Path, Query
from pydantic import AwareDatetime, BaseModel

from cure.dashboard import api_models as m
from cure.dashboard import api_views as views
from cure.dashboard.api_door import ApiParts, CallerIn, ProblemError
from cure.dashboard.api_paging import AfterName, Limit, page_by_name
from cure.dashboard.api_reads import in_ms
from cure.dashboard.rules import API
from cure.first_reading import line, verdict
from cure.loggers import LoggerRow, logger_of
from shared.models.base import ID_PATTERN, Ms, SensorId, SensorIdText
from shared.models.readings import Refusal

FIRST_BYTES: Final = 200
"""Of a refused message: more of it is on the site book."""
LoggerInPath = Annotated[str, Path(pattern=ID_PATTERN, description="name of a logger, without the number of a sensor")]
Held = Annotated[SensorIdText | None, Query(description="a sensor that a hand holds")]
Since = Annotated[AwareDatetime | None, Query(description="since when it holds it")]


class CheckAnswer(BaseModel):
    """One thing looked at after placing."""

    name: str
    found: str
    said: str


class CheckedSensor(BaseModel):
    """What the check of a sensor found. It releases nothing."""

    sensor: str
    verdict: str
    line: str
    checks: list[CheckAnswer]


class HandAnswer(BaseModel):
    """Whether a sensor has felt the hand that holds it."""

    sensor: str
    found: str
    said: str


class OneLogger(BaseModel):
    """A logger: its sensors, and what their check found."""

    logger: str
    sensors: list[m.LoggerAnswer]
    checked: list[CheckedSensor]
    missing: list[tuple[int, int]]
    """First and last of each span of numbers of its messages that never came."""
    hand: HandAnswer | None
    """Of `held` and `since`; null: they were not given."""


class RefusalAnswer(BaseModel):
    """A message, or a record of one, that was refused, with its reason; it stands until it is screened again."""

    no: int
    received: datetime
    topic: str
    sensor: str | None
    reason: str
    detail: str
    begins: str
    """Its first bytes, what is no text escaped."""


class RefusalsAnswer(BaseModel):
    """The newest of what stands refused."""

    standing: int
    """How many stand in all."""
    items: list[RefusalAnswer]


def loggers(api: ApiParts) -> dict[tuple[str, str], Callable[..., Any]]:
    """Return what answers the routes of loggers."""
    beside = api.parts.beside

    def shown(rows: list[LoggerRow], caller: CallerIn) -> list[m.LoggerAnswer]:
        # Of those that are shown alone the newest value is read.
        newest = beside.newest([SensorId(row.name) for row in rows])
        valued = (replace(row, milli_c=newest.get(SensorId(row.name), row.milli_c)) for row in rows)
        return [views.logger_answer(row, caller.site) for row in valued]

    def every(caller: CallerIn, cursor: AfterName = None, limit: Limit = 100) -> m.Page[m.LoggerAnswer]:
        """Every placed sensor, and every one that sends and lies nowhere, by name."""
        page, more = page_by_name(beside.loggers().rows, lambda row: row.name, cursor, limit)
        return m.Page[m.LoggerAnswer](items=shown(page, caller), next=more)

    def one(caller: CallerIn, logger: LoggerInPath, held: Held = None, since: Since = None) -> OneLogger:
        """One logger, with what is found about each of its sensors; `held` and `since`: whether it feels a hand."""
        rows = [row for row in beside.loggers().rows if logger_of(row.name) == logger]
        tried = beside.check(logger)
        if not rows and not tried:
            raise ProblemError(404, f"nothing is known of a logger {logger}")
        checked = [
            CheckedSensor(
                sensor=sensor,
                verdict=verdict(found),
                line=line(sensor, found),
                checks=[CheckAnswer(name=c.name, found=c.found, said=caller.reader.known(c.text)) for c in found],
            )
            for sensor, found in sorted(tried.items())
        ]
        hand = None
        if held is not None and since is not None:
            if held not in tried:
                raise ProblemError(422, f"{held} is no sensor of {logger} that was heard or placed")
            warmth = beside.warmth(SensorId(held), in_ms(since))
            hand = HandAnswer(sensor=held, found=warmth.found, said=caller.reader.known(warmth.text))
        lost = next((list(one.missing) for one in api.parts.board.missing() if one.logger == logger), [])
        return OneLogger(logger=logger, sensors=shown(rows, caller), checked=checked, missing=lost, hand=hand)

    def refusals(caller: CallerIn, limit: Limit = 100) -> RefusalsAnswer:
        """The newest messages that stand refused; `acts/screen-again` has them looked at once more."""
        standing, found = api.parts.board.standing_refusals(limit)
        return RefusalsAnswer(
            standing=standing, items=[_refusal(one, lambda at: views.hour(at, caller.site)) for one in found]
        )

    return {
        ("GET", f"{API}/loggers"): every,
        ("GET", f"{API}/loggers/{{logger}}"): one,
        ("GET", f"{API}/refusals"): refusals,
    }


def _refusal(refusal: Refusal, hour: Callable[[Ms], datetime]) -> RefusalAnswer:
    of = refusal.refused
    return RefusalAnswer(
        no=refusal.no,
        received=hour(of.received_ms),
        topic=of.topic,
        sensor=of.sensor,
        reason=of.reason,
        detail=of.detail,
        begins=of.payload[:FIRST_BYTES].decode("utf-8", "backslashreplace"),
    )
