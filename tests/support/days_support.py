"""The stored rows of a site in memory, as `Days` and the ledger read them, and the messages they get."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, Final, cast

from cure_support import series
from store_support import AIR, BAY, POUR, make_pour, make_site, site_dict

from cure.days import Days
from shared.clock import SimulatedClock
from shared.errors import StoreError
from shared.models.acts import Act
from shared.models.base import (
    HOUR_MS,
    LOAD,
    MINUTE_MS,
    STRIP,
    THE_SITE,
    WALK,
    BayId,
    Json,
    LoggerId,
    Ms,
    PourId,
    SensorId,
)
from shared.models.decisions import Doubt, Gate, GateState, Hold, LogEntry, Placement, PourState, RequirementEdit
from shared.models.estimate import Estimate
from shared.models.messages import Delivery, Message, MessageKind, NewMessage
from shared.models.readings import Heard, Series
from shared.models.setup import SiteFile
from shared.ports import BoardBook, BoardRow, CureBook, MixRow, Readings, ServiceBook

LISTS: Final = (MessageKind.MORNING_LIST, MessageKind.COVER_TONIGHT, MessageKind.HANDOVER)


def at(text: str) -> Ms:
    """Return an hour written with its offset."""
    return round(datetime.fromisoformat(text).timestamp() * 1000)


def found(bound_mpa: float | None = None, coldest_c: float | None = 12.0) -> Estimate:
    """Return what a round found out, as far as lists look at it."""
    return Estimate(None, None, coldest_c, None, None, None, None, bound_mpa, {})


def shown_row(pour: str = POUR, bay: str = BAY, *, start_ms: Ms = 0, end_ms: Ms | None = None, **of: Any) -> BoardRow:
    """Return an open pour as the board shows it; gates by name (strip, walk, load), else curing."""
    states = {op: of.get(op, GateState.CURING) for op in (STRIP, WALK, LOAD)}
    gates = {op: Gate(PourId(pour), op, state, 1, changed_ms=start_ms) for op, state in states.items()}
    holds: tuple[Hold, ...] = of.get("holds", ())
    memory: dict[str, Json] = of.get("memory", {})
    state = PourState(estimate=of.get("estimate"), verdicts=of.get("verdicts", ()), memory=memory)
    return BoardRow(make_pour(pour, bay, start_ms=start_ms, end_ms=end_ms), "2", gates, holds, state, ())


@dataclass
class Rows:
    """A fake of the ports that read and write what is stored."""

    the_site: SiteFile = field(default_factory=make_site)
    rows: list[BoardRow] = field(default_factory=list)
    told: list[Message] = field(default_factory=list)
    sent: list[Delivery] = field(default_factory=list)
    entries: list[LogEntry] = field(default_factory=list)
    done: list[Act] = field(default_factory=list)
    open_doubts: list[Doubt] = field(default_factory=list)
    percents: dict[LoggerId, float | None] = field(default_factory=dict)
    """Batteries of loggers that said something."""
    of_mixes: list[MixRow] = field(default_factory=list)
    written: dict[BayId, list[RequirementEdit]] = field(default_factory=dict)
    reads: int = 0
    broken: bool = False

    def board(self) -> Sequence[BoardRow]:
        self.reads += 1
        return self.rows

    def messages(self) -> Sequence[Message]:
        return self.told

    def deliveries(self) -> Sequence[Delivery]:
        return self.sent

    def log_after(self, seq: int) -> Sequence[tuple[int, LogEntry]]:
        return [*enumerate(self.entries, 1)][seq:]

    def acts(self) -> Sequence[Act]:
        return self.done

    def site(self) -> SiteFile:
        return self.the_site

    def placements(self) -> Sequence[Placement]:
        return [
            Placement(s.sensor_id, bay.bay_id, s.zone, s.depth_mm, 900, s.required)
            for bay in self.the_site.bay
            for s in bay.sensors
        ]

    def mixes(self) -> Sequence[MixRow]:
        return self.of_mixes

    def edits(self, bay: BayId) -> Sequence[RequirementEdit]:
        return self.written.get(bay, [])

    def doubts(self) -> Sequence[Doubt]:
        return self.open_doubts

    def heard(self, logger: LoggerId) -> Heard | None:
        known = logger in self.percents
        return Heard(logger, 0, battery_percent=self.percents[logger]) if known else None

    def messages_of_site(self, messages: Sequence[NewMessage]) -> int:
        if self.broken:
            raise StoreError("the disk is full")
        before = len(self.told)
        for new in messages:
            assert new.pour == THE_SITE
            if not any((m.pour, m.subject, m.epoch, m.kind) == key_of(new) for m in self.told):
                self.tell(new)
        return len(self.told) - before

    def tell(self, new: NewMessage) -> Message:
        """Store a message, whatever it is about."""
        whole = Message(
            len(self.told) + 1, new.kind, new.pour, new.subject, new.epoch, new.at_ms, new.valid_until_ms, new.facts
        )
        self.told.append(whole)
        return whole

    def kinds(self) -> list[tuple[MessageKind, str]]:
        """Return kind and day of the lists written so far."""
        return [(m.kind, m.subject) for m in self.told if m.kind in LISTS]


def key_of(new: NewMessage) -> tuple[PourId, str, int, MessageKind]:
    """Return what is unique of a message."""
    return (new.pour, new.subject, new.epoch, new.kind)


@dataclass
class Air:
    """A fake of the readings: the air of a site, a reading each quarter of an hour."""

    low_c: dict[SensorId, float] = field(default_factory=lambda: {AIR: 3.0})
    until_ms: Ms | None = None
    """None: the sensors live."""
    asked: list[tuple[SensorId, Ms, Ms]] = field(default_factory=list)

    def between(self, sensor: SensorId, after: Ms, through: Ms) -> Series:
        self.asked.append((sensor, after, through))
        last = through if self.until_ms is None else min(through, self.until_ms)
        times = [*range(after + 1, last + 1, 15 * MINUTE_MS)] if sensor in self.low_c else []
        return series(times, [self.low_c[sensor]] * len(times)) if times else series([], [])


def days_of(rows: Rows, clock: SimulatedClock, air: Air | None = None) -> Days:
    """Return the lists of a site, wired to fakes; again: a service that started again."""
    readings = cast("Readings", Air() if air is None else air)
    return Days(
        rows.the_site, cast("BoardBook", rows), cast("CureBook", rows), cast("ServiceBook", rows), readings, clock
    )


def run_through(rows: Rows, from_ms: Ms, to_ms: Ms, step_ms: Ms = 5 * MINUTE_MS, restarts: bool = False) -> None:
    """Let a service run from one hour to another."""
    clock = SimulatedClock(from_ms)
    days = days_of(rows, clock)
    while clock.now() < to_ms:
        days.run_due()
        if restarts and clock.now() % (7 * step_ms) < step_ms:
            days = days_of(rows, clock)
        clock.set(clock.now() + step_ms)


def site_with(**site: Json) -> SiteFile:
    """Return the small site with other settings of its [site]."""
    return make_site(site={**site_dict()["site"], **site})


def released(rows: Rows, pour: str = POUR, operation: str = STRIP, *, at_ms: Ms = 0, **facts: Json) -> Message:
    """Store the release of an operation's first epoch."""
    new = NewMessage(MessageKind.RELEASED, PourId(pour), operation, 1, at_ms, at_ms + 24 * HOUR_MS, facts)
    return rows.tell(new)


def lists_of(rows: Rows, kind: MessageKind) -> list[Message]:
    """Return the lists of a kind."""
    return [m for m in rows.told if m.kind is kind]


def with_bound(row: BoardRow, bound_mpa: float | None) -> BoardRow:
    """Return the row with another lower bound."""
    return replace(row, state=replace(row.state, estimate=found(bound_mpa)))
