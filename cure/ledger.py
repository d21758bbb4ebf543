"""The ledger of each operation of each pour: when it was wanted, expected, met, signed, told, begun, done, and to what
its hours were lost. Pure, from the stored rows alone; what is not known stays None and is never zero.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from typing import Any, Final
from zoneinfo import ZoneInfo

from cure.lost import Lost, Steps, lost, steps_of
from shared import units
from shared.models.acts import PourStart, Want, instant, ms
from shared.models.base import HOUR_MS, Json, Ms, Operation, PourId
from shared.models.decisions import LogEntry
from shared.models.messages import Delivery, Message, MessageKind
from shared.models.setup import SiteFile
from shared.ports import BoardBook, BoardRow

HOURS: Final = ("wanted", "plan", "expected", "met", "signed", "told", "begun", "done")
TELLS: Final = frozenset({MessageKind.RELEASED, MessageKind.MET_NOT_SIGNED})


@dataclass(frozen=True, slots=True)
class Row:
    """One operation of one pour."""

    floor: str | None
    bay: str
    pour: str
    operation: str
    wanted_ms: Ms | None
    plan_ms: Ms | None
    """By the plan's own clock hours; None: it counts none, or there is no end of the pour yet."""
    expected_ms: Ms | None
    """As the first cold delay named it; None: there was none, or it named no hour."""
    met_ms: Ms | None
    signed_ms: Ms | None
    told_ms: Ms | None
    """When a channel first accepted the release."""
    begun_ms: Ms | None
    done_ms: Ms | None
    lost: Lost

    def to_json(self) -> dict[str, Json]:
        """Return the row as a JSON object."""
        return {**asdict(self), "lost": self.lost.to_json()}


@dataclass(frozen=True, slots=True)
class Total:
    """What a floor lost: the sums of what is known."""

    floor: str | None
    operations: int
    unknown: int
    """Operations of which a part of the lost hours is not known, or not yet."""
    lost: Lost

    def to_json(self) -> dict[str, Json]:
        """Return the total as a JSON object."""
        return {**asdict(self), "lost": self.lost.to_json()}


class _Pages:
    """The site book, sorted by pour and operation."""

    def __init__(self, book: BoardBook) -> None:
        self.site: SiteFile = book.site()
        self.open: Mapping[str, BoardRow] = {row.pour.id: row for row in book.board()}
        self.starts: dict[str, PourStart] = {}
        self.wanted: dict[tuple[str, str], Ms] = {}
        for act in book.acts():
            if isinstance(act, PourStart):
                self.starts[act.pour] = act
            elif isinstance(act, Want):
                self.wanted[act.pour, act.operation] = ms(act.wanted)
        self.lines: dict[tuple[str, str], list[LogEntry]] = {}
        for _, entry in book.log_after(0):
            if entry.what == "gate":
                self.lines.setdefault((entry.body["pour"], entry.body["operation"]), []).append(entry)
        self.messages: dict[tuple[str, str], list[Message]] = {}
        for message in book.messages():
            self.messages.setdefault((message.pour, message.subject), []).append(message)
        self.deliveries: dict[int, list[Delivery]] = {}
        for delivery in book.deliveries():
            self.deliveries.setdefault(delivery.message, []).append(delivery)

    def operations(self) -> Iterator[tuple[PourStart, str]]:
        """Yield each operation of each pour, in the order in which they began."""
        for pour, start in self.starts.items():
            of_gates = self.open[PourId(pour)].gates if pour in self.open else {}
            named = [op for of, op in (*self.lines, *self.wanted) if of == pour]
            for operation in dict.fromkeys([*map(str, of_gates), *named]):
                yield start, operation

    def floor(self, start: PourStart) -> str | None:
        if start.pour in self.open:
            return self.open[start.pour].floor
        return next((b.floor for b in self.site.bay if b.id == start.bay), None)

    def row(self, start: PourStart, operation: str) -> Row:
        key = (start.pour, operation)
        steps, wanted_ms = steps_of(self.lines.get(key, [])), self.wanted.get(key)
        plan_ms, delay = self._plan_ms(key, steps), self._first_delay(key)
        due = [hour for hour in (plan_ms, wanted_ms) if hour is not None]
        return Row(
            floor=self.floor(start),
            bay=start.bay,
            pour=start.pour,
            operation=operation,
            wanted_ms=wanted_ms,
            plan_ms=plan_ms,
            expected_ms=None if delay is None else delay.facts.get("expected_ms"),
            met_ms=None if steps.met is None else steps.met.at_ms,
            signed_ms=steps.signed_ms,
            told_ms=self._told_ms(key),
            begun_ms=steps.begun_ms,
            done_ms=steps.done_ms,
            lost=lost(steps, max(due, default=None), self.site.site),
        )

    def _first_delay(self, key: tuple[str, str]) -> Message | None:
        return next((m for m in self.messages.get(key, ()) if m.kind is MessageKind.COLD_DELAY), None)

    def _plan_ms(self, key: tuple[str, str], steps: Steps) -> Ms | None:
        if steps.met is not None and "hours" in steps.met.body:
            met_plan: Ms | None = steps.met.body["hours"]["plan_ms"]
            return met_plan
        memory: Mapping[str, Any] = self.open[key[0]].state.memory if key[0] in self.open else {}
        plan_ms: Ms | None = memory.get("expected", {}).get(Operation(key[1]), {}).get("plan_ms")
        return plan_ms

    def _told_ms(self, key: tuple[str, str]) -> Ms | None:
        numbers = [m.no for m in self.messages.get(key, ()) if m.kind in TELLS]
        accepted = [d.accepted_ms for no in numbers for d in self.deliveries.get(no, ())]
        return min((at for at in accepted if at is not None), default=None)


def ledger(book: BoardBook) -> tuple[Row, ...]:
    """Return a row for each operation of each pour that ever began."""
    pages = _Pages(book)
    return tuple(pages.row(start, operation) for start, operation in pages.operations())


def totals(rows: Sequence[Row]) -> tuple[Total, ...]:
    """Return what each floor lost."""
    found = []
    for floor in dict.fromkeys(r.floor for r in rows):
        here = [r.lost for r in rows if r.floor == floor]
        sums = {}
        for part in fields(Lost):
            known = [value for lost in here if (value := getattr(lost, part.name)) is not None]
            sums[part.name] = sum(known) if known else None
        unknown = sum(lost.whole_ms is None for lost in here)
        found.append(Total(floor, len(here), unknown, Lost(**sums)))
    return tuple(found)


def lines(rows: Sequence[Row], zone: str) -> list[str]:
    """Return the ledger as text: a line for each operation, then one for each floor, hours in site time."""
    place = ZoneInfo(zone)

    def hour(at_ms: Ms | None) -> str:
        return "-" if at_ms is None else instant(at_ms, place).isoformat(timespec="minutes")

    found = []
    for row in rows:
        hours = " ".join(f"{name} {hour(getattr(row, f'{name}_ms'))}" for name in HOURS)
        found.append(
            f"floor {row.floor} bay {row.bay} pour {row.pour} {row.operation}: {hours}; {_lost_words(row.lost)}"
        )
    for total in totals(rows):
        of = f"operations: {total.operations}, not known in full: {total.unknown}"
        found.append(f"floor {total.floor}: {_lost_words(total.lost)} ({of})")
    return found


def _lost_words(lost: Lost) -> str:
    named = [(f.name.removesuffix("_ms"), getattr(lost, f.name)) for f in fields(Lost)]
    parts = ", ".join(f"{name} {_hours(value)}" for name, value in named)
    return f"lost {_hours(lost.whole_ms)}: {parts}"


def _hours(value_ms: int | None) -> str:
    return units.shown(None if value_ms is None else value_ms / HOUR_MS, "h", limit=False)
