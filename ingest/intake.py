"""Messages in; stored readings, noted refusals and facts out. The listener and replay call the same functions."""

from __future__ import annotations

import logging
from collections import ChainMap
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from ingest.arrival import Waiting, apart_ms, arrived
from ingest.canary import hear_canary
from ingest.memory import Memory
from ingest.message import Incoming
from ingest.payloads.decoded import Decoded, Decoder, Fault, Record, Told, Untimed, quoted
from ingest.replays import played_again
from ingest.screened import by_sensor, screened
from ingest.seldom import SeldomLog
from ingest.sheet import ROWS, Sheet, Taken, row_of
from ingest.signed import Keys, believed
from ingest.topics import Way, routes
from shared.elapsed import SANE_FROM_MS
from shared.errors import RejectedError, StoreError
from shared.models.base import MilliC, Ms, SensorId, SiteId
from shared.models.decisions import Placement
from shared.models.payloads import TopicSettings
from shared.models.readings import Conflict, Heard, Reading, Reason, Refused
from shared.ports import Clock, IngestBook, NewArrivals, ReadingsIn

REMEMBERED: Final = 20_000
"""Four times what the listener may hold, so that all that can be resent at once is remembered."""

_FAILED: Final = SeldomLog(logging.getLogger(__name__))


@dataclass(frozen=True, slots=True)
class _Opened:
    """A message of a logger, decoded."""

    message: Incoming
    received_ms: Ms
    told: Told
    decoded: Decoded


class Intake:
    """Takes batches: merge (durable), note (durable), return; then the caller acknowledges.

    A crash anywhere means that the broker sends the batch again, and both steps bear that. Two things would be lost
    between merge and note, because the second time the rows are already there: that the pours must be told, and the
    warmer of two values that a colder one replaced. So every reading counts as news until this process has noted
    that very reading (a copy from before a restart therefore counts once), and a value about to be replaced is noted
    before the merge. One writer only.
    """

    def __init__(
        self,
        site_id: SiteId,
        readings: ReadingsIn,
        book: IngestBook,
        clock: Clock,
        on_step: Callable[[str], None] = lambda _: None,
        topics: Sequence[TopicSettings] = (),
        keys: Keys | None = None,
    ) -> None:
        """`on_step` is called with the name of each step as it is done: where tests break in; `keys`: who must sign."""
        self._routes = routes(site_id, topics)
        self._canary: Final = f"slabhour/{site_id}/canary"
        self._keys: Final = keys or {}
        self._readings = readings
        self._book = book
        self._clock = clock
        self._on_step = on_step
        self._noted = Memory(REMEMBERED)
        self._waiting: dict[SensorId, Waiting] = {}

    def subscriptions(self) -> Sequence[tuple[str, int]]:
        """Return the filters to subscribe to, each with its QoS."""
        return [(route.subscription, route.qos) for route in self._routes]

    def incoming(self, topic: str, payload: bytes, *, may_have_waited: bool = False) -> Incoming:
        """Return the message stamped with the hour it came; a clock that cannot be right stamps nothing."""
        now = self._clock.now()
        return Incoming(topic, payload, now if now >= SANE_FROM_MS else None, may_have_waited)

    def take(self, batch: Sequence[Incoming]) -> Sequence[Taken]:
        """Store, refuse and note everything in the batch; say what became of each. `StoreError`: acknowledge none."""
        now = self._clock.now()
        if now < SANE_FROM_MS:
            # Each would be refused for lying ahead, for good; the broker keeps them until the hour is known.
            raise StoreError("the service's clock cannot be right: no reading is taken in until it is")
        sheet = Sheet(waiting=ChainMap({}, self._waiting))
        found = [self._opened(message, now, sheet) for message in batch]
        opened = [one for one in found if isinstance(one, _Opened)]
        placed = self._placed(opened, sheet)
        self._recall(sheet, [record for one in opened for record in one.decoded.with_hours()])
        told = [(one.told.logger, one.decoded) for one in opened if one.told.logger is not None]
        sheet.replayed = played_again(told, self._book, self._readings)
        taken = [one if isinstance(one, Taken) else self._read(one, placed, sheet) for one in found]
        self._on_step("decoded")
        self._write(sheet)
        # Only now: a batch that could not be stored is taken again.
        self._waiting = dict(sheet.waiting)
        return [one.without(sheet.rejected) for one in taken]

    def take_rows(self, readings: Sequence[Reading]) -> None:
        """Do the same with decoded readings (replay, CSV): each is screened as of its own `received_ms`."""
        placed = self._placements({row.sensor for row in readings})
        sheet = Sheet()
        self._recall(sheet, [Record(row.sensor, row.taken_ms, row.milli_c) for row in readings])
        for row in readings:
            self._row(row, placed, sheet)
        self._write(sheet)

    def look_again(self, refused: Sequence[Refused]) -> Sequence[Sheet]:
        """Return what each refused message or row comes to now, each as of the hour when it first came; nothing is
        written. Without an hour of its own it comes to nothing: nobody knows which neighbours it had."""
        now, found = self._clock.now(), []
        for one in refused:
            sheet = Sheet()
            if one.topic == ROWS:
                row = row_of(one)
                self._recall(sheet, [Record(row.sensor, row.taken_ms, row.milli_c)])
                self._row(row, self._placements({row.sensor}), sheet)
            else:
                opened = self._opened(Incoming(one.topic, one.payload, one.received_ms), now, sheet)
                if isinstance(opened, _Opened):
                    opened = replace(opened, decoded=replace(opened.decoded, untimed=()))
                    self._recall(sheet, opened.decoded.records)
                    if one.reason is Reason.REPLAYED:
                        sheet.replayed = {(r.sensor, r.taken_ms) for r in opened.decoded.records}
                    self._read(opened, self._placed([opened], sheet), sheet)
            found.append(sheet)
        return found

    def store_again(self, sheets: Sequence[Sheet]) -> None:
        """Store what such looks came to. Raises `StoreError`: then all of it may be stored again."""
        whole = Sheet()
        for sheet in sheets:
            whole.rows += sheet.rows
            whole.refused += sheet.refused
        self._write(whole)

    def _row(self, row: Reading, placed: Mapping[SensorId, Sequence[Placement]], sheet: Sheet) -> None:
        fault = screened(Record(row.sensor, row.taken_ms, row.milli_c), row.received_ms, placed, sheet)
        if fault is None:
            sheet.rows.append(row)
        else:
            sheet.refuse_row(row, fault)

    def _placements(self, sensors: set[SensorId]) -> Mapping[SensorId, Sequence[Placement]]:
        return by_sensor(self._book.placed(sensors)) if sensors else {}

    def _placed(self, opened: Sequence[_Opened], sheet: Sheet) -> Mapping[SensorId, Sequence[Placement]]:
        """Return where the sensors of messages lie; name on the sheet the loggers of which none does.

        Asked anew for each batch, and of its own sensors alone: a site may have a hundred thousand others.
        """
        decoded = [one.decoded for one in opened]
        timed = {record.sensor for one in decoded for record in one.records}
        placed = self._placements(timed.union(found.sensor for one in decoded for found in one.untimed))
        told = {o.told.logger for o in opened if o.decoded.facts is not None and o.told.logger is not None}
        left = told - {sensor.partition(".")[0] for sensor in placed}
        sheet.strange = left.difference(self._book.placed_loggers(left)) if left else set()
        return placed

    def _recall(self, sheet: Sheet, records: Sequence[Record]) -> None:
        if records:
            sheet.ahead.update(self._book.refused_ahead({(r.sensor, r.taken_ms) for r in records}))

    def _opened(self, message: Incoming, now: Ms, sheet: Sheet) -> _Opened | Taken:
        """Return a logger's message; anything else is dealt with here."""
        received = now if message.received_ms is None else message.received_ms
        if message.way is None and message.topic == self._canary:
            return hear_canary(message.topic, message.payload, received, sheet)
        way = self._way(message.topic) if message.way is None else message.way
        if way is not None:
            decoded = _decoded(way.decoder, way.told, message.payload)
            return _Opened(message, received, way.told, believed(way.told, decoded, self._keys))
        fault = Fault(Reason.TOPIC, f"topic {quoted(message.topic)}")
        sheet.refuse(message.topic, message.payload, received, [fault])
        return Taken(faults=(fault,))

    def _way(self, topic: str) -> Way | None:
        return next((Way(told, r.decoder) for r in self._routes if (told := r.told(topic)) is not None), None)

    def _read(self, opened: _Opened, placed: Mapping[SensorId, Sequence[Placement]], sheet: Sheet) -> Taken:
        logger, received, decoded = opened.told.logger, opened.received_ms, opened.decoded
        faults, before, waiting = list(decoded.faults), len(sheet.rows), 0
        for untimed in decoded.untimed:
            why = _untimed(untimed, opened, placed, sheet)
            waiting += not why
            faults += why
        for record in decoded.records:
            fault = screened(record, received, placed, sheet)
            if fault is None:
                sheet.rows.append(Reading(record.sensor, record.taken_ms, record.milli_c, received))
            else:
                faults.append(fault)
        if decoded.facts is not None and logger is not None:
            if logger not in sheet.strange:
                said = decoded.facts
                sheet.heard.append(
                    Heard(logger, received, said.boot, said.sequence, said.battery_percent, said.signal_db)
                )
            else:
                faults.append(Fault(Reason.UNKNOWN_SENSOR, f"no sensor of {logger} is placed"))
        sheet.refuse(opened.message.topic, opened.message.payload, received, faults)
        return Taken(tuple(sheet.rows[before:]), waiting, tuple(faults), decoded.facts is not None)

    def _write(self, sheet: Sheet) -> None:
        replaced = self._replaced(sheet.rows)
        if replaced:
            self._book.note((), (), replaced, ())
            self._on_step("replaced values noted")
        conflicts = self._merged(sheet) if sheet.rows else ()
        self._on_step("merged")
        if sheet.rows or sheet.refused or sheet.heard:
            self._book.note(self._arrivals(sheet.rows), sheet.refused, conflicts, sheet.heard)
        for row in sheet.rows:
            self._noted.put((row.sensor, row.taken_ms, row.milli_c), row.received_ms)
        self._on_step("noted")

    def _merged(self, sheet: Sheet) -> Sequence[Conflict]:
        try:
            return self._readings.merge(sheet.rows)
        except RejectedError as error:
            # A message that can never be stored must not be sent again for ever; it acts as a missing one.
            sheet.rejected = dict(error.rejected)
            sheet.rows = [row for row in sheet.rows if row not in sheet.rejected]
            for row, why in error.rejected:
                sheet.refuse_row(row, Fault(Reason.STORE, why, row.sensor))
            return error.conflicts

    def _replaced(self, rows: Sequence[Reading]) -> Sequence[Conflict]:
        """Return the stored values that these rows are about to replace by colder ones."""
        stored: dict[tuple[SensorId, Ms], MilliC] = {}
        if rows:
            stored.update(self._readings.known({(row.sensor, row.taken_ms) for row in rows}))
        replaced = []
        for row in rows:
            key = (row.sensor, row.taken_ms)
            other = stored.get(key)
            if other is not None and row.milli_c < other:
                replaced.append(Conflict(row.sensor, row.taken_ms, row.milli_c, other, row.received_ms))
                stored[key] = row.milli_c
        return replaced

    def _arrivals(self, rows: Sequence[Reading]) -> Sequence[NewArrivals]:
        of_sensor: dict[SensorId, list[Reading]] = {}
        for row in rows:
            of_sensor.setdefault(row.sensor, []).append(row)
        return [self._arrival(sensor, some) for sensor, some in of_sensor.items()]

    def _arrival(self, sensor: SensorId, rows: Sequence[Reading]) -> NewArrivals:
        # What was noted before is no news: a logger that repeats its last hour must not look late each time.
        news = [r for r in rows if (r.sensor, r.taken_ms, r.milli_c) not in self._noted]
        return NewArrivals(
            sensor=sensor,
            changed=len({r.taken_ms for r in news}),
            oldest_ms=min(r.taken_ms for r in news or rows),
            newest_ms=max(r.taken_ms for r in rows),
            received_ms=max(r.received_ms for r in rows),
        )


def _decoded(decoder: Decoder, told: Told, payload: bytes) -> Decoded:
    try:
        return decoder(told, payload)
    except Exception as error:  # noqa: BLE001  one message must never stop those behind it; it is kept and named
        _FAILED.tell("decoder failed on a message of %s", told.logger)
        return Decoded(faults=(Fault(Reason.SCHEMA, f"the decoder failed: {type(error).__name__}"),))


def _untimed(
    found: Untimed, opened: _Opened, placed: Mapping[SensorId, Sequence[Placement]], sheet: Sheet
) -> Sequence[Fault]:
    """Give a temperature the hour of its arrival, by the rules of `ingest.arrival`."""
    sensor, message, received = found.sensor, opened.message, opened.received_ms
    at_ms = received if found.arrived_ms is None else found.arrived_ms
    if found.arrived_ms is None and (message.may_have_waited or message.received_ms is None):
        why = "came late, or nobody knows when, and has no hour of its own"
        return [Fault(Reason.NOT_FRESH, f"{sensor}: {why}", sensor)]
    refused = screened(Record(sensor, at_ms, found.milli_c), received, placed, sheet)
    if refused is not None:
        return [refused]
    before = sheet.waiting.get(sensor)
    if before is not None and (found.arrived_ms, found.milli_c) == (before.arrived_ms, before.milli_c):
        # The broker sends the same message again.
        return []
    step = arrived(before, at_ms, found.milli_c, apart_ms(placed[sensor]))
    sheet.waiting[sensor] = step.waiting
    if step.counted is not None:
        sheet.rows.append(Reading(sensor, *step.counted, received))
    if step.crowded:
        why = "came within a quarter of its interval of another one, neither with an hour of its own: neither counts"
        return [Fault(Reason.NOT_FRESH, f"{sensor}: {why}", sensor)]
    return []
