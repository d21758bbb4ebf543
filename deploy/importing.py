"""A file's rows become readings: by the same intake as messages, a chunk at a time, counted and written down.

A dry run is the real run on copies: the same code, the same counts, and nothing of it is kept.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, TypeAlias

from deploy.folders import data_folder, in_files
from deploy.receipts import EXAMPLES, Example, Receipt, Receipts, Refusals
from ingest import files
from ingest.columns import Mapped, Wrong
from ingest.intake import Intake
from ingest.sheet import ROWS
from shared.elapsed import SANE_FROM_MS
from shared.errors import RejectedError, StoreError
from shared.models.base import LoggerId, Ms, SensorId
from shared.models.decisions import Placement
from shared.models.readings import Arrival, Conflict, Heard, Reading, Reason, Refused
from shared.models.setup import Setup
from shared.ports import Clock, IngestBook, NewArrivals, ReadingsIn, RefusedBook
from shared.sequence import Followed
from shared.store import copy_book, has_book, open_book, open_readings, read_readings, readings_server

CHUNK_ROWS: Final = 20_000
KEPT_OF_A_ROW_BYTES: Final = 2048
_Key = tuple[SensorId, Ms]
MakeIntake: TypeAlias = Callable[[ReadingsIn, IngestBook], Intake]
Told: TypeAlias = Callable[[Receipt], None]


class CountedReadings:
    """The store of readings; counts what becomes of each."""

    def __init__(self, store: ReadingsIn, receipt: Receipt) -> None:
        self._store = store
        self._receipt = receipt
        self._asked: frozenset[_Key] = frozenset()
        self._known: dict[_Key, int] = {}

    def known(self, keys: Collection[_Key]) -> Mapping[_Key, int]:
        self._asked = frozenset(keys)
        self._known = dict(self._store.known(keys))
        return self._known

    def merge(self, batch: Sequence[Reading]) -> Sequence[Conflict]:
        # The intake asks before it merges; only when it did not, here again.
        if any((r.sensor, r.taken_ms) not in self._asked for r in batch):
            self.known({(r.sensor, r.taken_ms) for r in batch})
        stored, self._known, self._asked = dict(self._known), {}, frozenset()
        try:
            conflicts = self._store.merge(batch)
        except RejectedError as error:
            rejected = {row for row, _ in error.rejected}
            self._count([one for one in batch if one not in rejected], stored)
            raise
        self._count(batch, stored)
        return conflicts

    def _count(self, durable: Sequence[Reading], stored: dict[_Key, int]) -> None:
        tallies = {sensor: self._receipt.of(sensor) for sensor in {one.sensor for one in durable}}
        for one in durable:
            key, tally = (one.sensor, one.taken_ms), tallies[one.sensor]
            other = stored.get(key)
            if other is None:
                tally.stored += 1
            elif other == one.milli_c:
                tally.repeated += 1
            elif one.milli_c < other:
                tally.colder += 1
            else:
                tally.warmer += 1
            stored[key] = one.milli_c if other is None else min(other, one.milli_c)


class CountedBook:
    """The site book; counts refusals, gives them the file's name and keeps one of each sensor and reason.

    Of what lay ahead every hour is kept, as it is of messages, or it would ripen.
    """

    def __init__(self, book: IngestBook, receipt: Receipt, refusals: Refusals) -> None:
        self._book = book
        self._receipt = receipt
        self._refusals = refusals
        self._came: Mapped = Mapped()
        self._lines: dict[bytes, list[int]] | None = None
        self._topic = f"file {receipt.file.encode('ascii', 'replace').decode()}"[:200]

    def placements(self) -> Sequence[Placement]:
        return self._book.placements()

    def placed(self, sensors: Collection[SensorId]) -> Sequence[Placement]:
        return self._book.placed(sensors)

    def placed_loggers(self, loggers: Collection[LoggerId]) -> Collection[LoggerId]:
        return self._book.placed_loggers(loggers)

    def arrival(self, sensors: Collection[SensorId]) -> Mapping[SensorId, Arrival]:
        return self._book.arrival(sensors)

    def refused_ahead(self, keys: Collection[_Key]) -> Collection[_Key]:
        return self._book.refused_ahead(keys)

    def followed(self, loggers: Collection[LoggerId]) -> Mapping[LoggerId, Followed]:
        return self._book.followed(loggers)

    def note(
        self,
        arrivals: Sequence[NewArrivals],
        refused: Sequence[Refused],
        conflicts: Sequence[Conflict],
        heard: Sequence[Heard],
    ) -> None:
        kept = [named for one in refused if (named := self._count(one)) is not None]
        self._book.note(arrivals, kept, conflicts, heard)

    def refuse(self, wrong: Sequence[Wrong], received_ms: Ms) -> None:
        """Note the rows that could not be read."""
        kept = []
        for one in wrong:
            if self._first(one):
                text = one.text.encode("utf-8", "backslashreplace")[:KEPT_OF_A_ROW_BYTES]
                said = f"line {one.line}: {one.detail}"
                kept.append(Refused(received_ms, self._topic, text, one.reason, said, one.sensor))
        if kept:
            self._book.note((), kept, (), ())

    def expect(self, mapped: Mapped) -> None:
        """Take the lines from which the next readings come."""
        self._came, self._lines = mapped, None

    def _line(self, payload: bytes) -> int:
        """Return the line of a refused reading; of several that say the same, the next one."""
        if self._lines is None:
            self._lines = {}
            for one in self._came.found:
                said = f"{one.sensor},{one.taken_ms},{one.milli_c}"
                self._lines.setdefault(said.encode(), []).append(one.line)
        return self._lines[payload].pop(0)

    def _count(self, refused: Refused) -> Refused | None:
        """Return the refusal as the book is to have it, if it is to have it."""
        if refused.topic != ROWS:
            return refused
        wrong = Wrong(
            self._line(refused.payload), refused.reason, refused.detail, refused.sensor, refused.payload.decode()
        )
        first = self._first(wrong)
        if not first and refused.reason is not Reason.CLOCK_FUTURE:
            return None
        return replace(refused, topic=self._topic)

    def _first(self, wrong: Wrong) -> bool:
        """Count a refusal; say whether it is the first of its sensor and reason."""
        self._refusals.write([wrong])
        counts = self._receipt.of(wrong.sensor).refused
        before = counts.get(wrong.reason, 0)
        counts[wrong.reason] = before + 1
        if len(self._receipt.examples) < EXAMPLES:
            self._receipt.examples.append(Example(wrong.line, wrong.sensor or "", wrong.reason, wrong.detail))
        return before == 0


class Overlay:
    """Readings of a store that is only read, with new ones laid over them in another."""

    def __init__(self, base: ReadingsIn | None, over: ReadingsIn) -> None:
        self._base = base
        self._over = over

    def _below(self, keys: Collection[_Key]) -> Mapping[_Key, int]:
        return {} if self._base is None else self._base.known(keys)

    def known(self, keys: Collection[_Key]) -> Mapping[_Key, int]:
        return {**self._below(keys), **self._over.known(keys)}

    def merge(self, batch: Sequence[Reading]) -> Sequence[Conflict]:
        below = self._below({(r.sensor, r.taken_ms) for r in batch})
        stored = [Reading(sensor, taken_ms, milli_c, 0) for (sensor, taken_ms), milli_c in below.items()]
        return self._over.merge([*stored, *batch])


def import_file(
    path: Path,
    receipt: Receipt,
    receipts: Receipts,
    ports: tuple[ReadingsIn, IngestBook],
    make_intake: MakeIntake,
    *,
    stopped: Callable[[], bool],
    told: Told,
    chunk_rows: int = CHUNK_ROWS,
) -> Receipt:
    """Take in what of a file the receipt has not; return the receipt, finished unless it was stopped.

    A crash between a chunk and its receipt takes that chunk in again: the stores bear it, and the counts call its
    readings repeated.

    Args:
        path: a table whose content the receipt is of.
        receipt: a new one, or one that was saved.
        receipts: where it is saved after every chunk.
        ports: the stores, or copies of them.
        make_intake: makes the intake on the counting faces of these ports.
        stopped: asked before each chunk.
        told: called after each chunk.
        chunk_rows: rows that become durable together.

    Raises:
        SetupError: the file is no table, or lacks a column of the map.
        StoreError: a store failed; what is in the receipt is done.
    """
    if receipt.finished:
        return receipt
    with files.open_table(path, receipt.columns) as table, receipts.refusals(receipt) as refusals:
        read = files.mapper(path, table, receipt.columns).read
        book = CountedBook(ports[1], receipt, refusals)
        intake = make_intake(CountedReadings(ports[0], receipt), book)
        for rows in table.chunks(chunk_rows, receipt.rows):
            if stopped():
                return receipt
            _take(read(rows), intake, book, receipt)
            refusals.flush()
            receipt.rows += len(rows)
            receipt.fraction = table.fraction()
            receipts.save(receipt)
            told(receipt)
    receipt.finished, receipt.fraction = True, 1.0
    receipts.save(receipt)
    told(receipt)
    return receipt


def _take(mapped: Mapped, intake: Intake, book: CountedBook, receipt: Receipt) -> None:
    for sensor in mapped.blank:
        receipt.of(sensor).blank += 1
    book.refuse(mapped.wrong, receipt.began_ms)
    book.expect(mapped)
    intake.take_rows([Reading(one.sensor, one.taken_ms, one.milli_c, receipt.began_ms) for one in mapped.found])


def began(clock: Clock) -> Ms:
    """Return the hour at which an import begins. Raises `StoreError` when the clock cannot be right."""
    now = clock.now()
    if now < SANE_FROM_MS:
        raise StoreError("the machine's clock cannot be right: no file is taken in until it is")
    return now


@dataclass(frozen=True, slots=True)
class Copies:
    """Stores on which something does what it would do to the site's."""

    readings: ReadingsIn
    book: IngestBook
    refused: RefusedBook
    receipts: Receipts


@contextmanager
def copies(setup: Setup, clock: Clock) -> Iterator[Copies]:
    """Lend stores on which an import does what it would do to the site's, and of which nothing is kept."""
    data = data_folder(setup)
    with ExitStack() as stack:
        apart = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="slabhour-dry-run-")))
        base = None
        if has_book(setup, data):
            copy_book(setup, data, apart)
        # A server may hold readings of a site whose book is not begun, or begun anew.
        if has_book(setup, data) or readings_server(setup) is not None:
            base = stack.enter_context(closing(read_readings(setup, data)))
        book = stack.enter_context(closing(open_book(in_files(setup), apart, clock.now())))
        over = stack.enter_context(closing(open_readings(in_files(setup), apart)))
        yield Copies(Overlay(base, over), book.ingest, book.refused, Receipts(apart))
