"""The ledger of each operation of each pour: when it was wanted, expected, met, signed, told, begun, done, and to what
its hours were lost. Pure, from the stored rows alone; what is not known stays None and is never zero.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from typing import Any, Final
from zoneinfo import ZoneInfo

from cure.lost import Lost, Steps, lost, steps_of
from shared import units
from shared.models.acts import PourStart, TakeBack, Want, instant, ms
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

    @property
    def due_ms(self) -> Ms | None:
        """Behind which hours are lost: the plan's hour, or the wanted one where that is later; None: there is none."""
        return max((hour for hour in (self.plan_ms, self.wanted_ms) if hour is not None), default=None)

    @property
    def waited_ms(self) -> int | None:
        """From the requirement met to done, nights and holidays too; None: one of the two is not known."""
        return None if self.met_ms is None or self.done_ms is None else self.done_ms - self.met_ms

    def to_json(self) -> dict[str, Json]:
        """Return the row as a JSON object."""
        return {**asdict(self), "waited_ms": self.waited_ms, "lost": self.lost.to_json()}


@dataclass(frozen=True, slots=True)
class Total:
    """What a floor, or a bay of it, lost: the sums of what is known."""

    floor: str | None
    operations: int
    unknown: int
    """Operations of which a part of the lost hours is not known, or not yet."""
    lost: Lost
    waited_ms: int | None = None
    """From met to done, of the operations that are done; None: none is."""
    bay: str | None = None
    """None: the whole floor."""

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
            elif isinstance(act, TakeBack):
                # Nothing was poured under that name, so no hour of it was lost.
                self.starts.pop(act.pour, None)
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
        row = Row(
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
            lost=Lost(),
        )
        return replace(row, lost=lost(steps, row.due_ms, self.site.site))

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
    floors = dict.fromkeys(r.floor for r in rows)
    return tuple(_total(floor, [r for r in rows if r.floor == floor]) for floor in floors)


def bay_totals(rows: Sequence[Row]) -> tuple[Total, ...]:
    """Return what each bay of each floor lost."""
    bays = dict.fromkeys((r.floor, r.bay) for r in rows)
    return tuple(_total(floor, [r for r in rows if (r.floor, r.bay) == (floor, bay)], bay) for floor, bay in bays)


def _total(floor: str | None, here: Sequence[Row], bay: str | None = None) -> Total:
    sums = {part.name: _sum(getattr(r.lost, part.name) for r in here) for part in fields(Lost)}
    unknown = sum(r.lost.whole_ms is None for r in here)
    return Total(floor, len(here), unknown, Lost(**sums), _sum(r.waited_ms for r in here), bay)


def _sum(values: Iterable[int | None]) -> int | None:
    known = [value for value in values if value is not None]
    return sum(known) if known else None


def lines(rows: Sequence[Row], zone: str) -> list[str]:
    """Return the ledger as text: a line for each operation, then one for each bay and floor, hours in site time."""
    place = ZoneInfo(zone)

    def hour(at_ms: Ms | None) -> str:
        return "-" if at_ms is None else instant(at_ms, place).isoformat(timespec="minutes")

    found = []
    for row in rows:
        hours = " ".join(f"{name} {hour(getattr(row, f'{name}_ms'))}" for name in HOURS)
        of = f"floor {row.floor} bay {row.bay} pour {row.pour} {row.operation}"
        found.append(f"{of}: {hours}; {_lost_words(row.lost)}; met to done {_hours(row.waited_ms)}")
    for total in (*bay_totals(rows), *totals(rows)):
        of = f"floor {total.floor}" + ("" if total.bay is None else f" bay {total.bay}")
        many = f"operations: {total.operations}, not known in full: {total.unknown}"
        found.append(f"{of}: {_lost_words(total.lost)}; met to done {_hours(total.waited_ms)} ({many})")
    return found


def _lost_words(lost: Lost) -> str:
    named = [(f.name.removesuffix("_ms"), getattr(lost, f.name)) for f in fields(Lost)]
    parts = ", ".join(f"{name} {_hours(value)}" for name, value in named)
    return f"lost {_hours(lost.whole_ms)}: {parts}"


def _hours(value_ms: int | None) -> str:
    return units.shown(None if value_ms is None else value_ms / HOUR_MS, "h", limit=False)
