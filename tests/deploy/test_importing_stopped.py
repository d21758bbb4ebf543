from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
from deploy_support import little_service
from files_support import FATES, LONG, NOW_MS, counts, odd_rows, stored, take, write_rows

from deploy.importing import import_file
from deploy.receipts import Receipt, Receipts, new_receipt
from deploy.wiring import Service
from shared.errors import StoreError
from shared.models.base import HOUR_MS, SensorId
from shared.models.readings import Conflict, Heard, Reason, Refused
from shared.ports import IngestBook, NewArrivals


@pytest.mark.parametrize("pieces", [1, 3])
def test_a_stopped_import_goes_on_where_it_was_and_comes_to_the_same(tmp_path: Path, pieces: int) -> None:
    path = write_rows(tmp_path / "r.csv", odd_rows())
    (tmp_path / "other").mkdir()
    with little_service(tmp_path / "other", NOW_MS) as (service, _):
        whole = take(service, path, chunk_rows=5)
        expected = Receipts(service.folder).refused(whole.id).read_text(encoding="utf-8")
    looks = iter(range(100))
    with little_service(tmp_path, NOW_MS) as (service, clock):
        stopped = take(service, path, chunk_rows=5, stopped=lambda: next(looks) >= pieces)
        assert (stopped.finished, stopped.rows) == (False, 5 * pieces)
    with little_service(tmp_path, NOW_MS + HOUR_MS) as (service, clock):
        saved = Receipts(service.folder).load(whole.id)
        assert saved == stopped
        clock.set(NOW_MS + 3 * HOUR_MS)
        going_on = take(service, path, receipt=saved, chunk_rows=5)
        assert going_on.numbers() == whole.numbers()
        # All of it counts as received when it began.
        assert {r.received_ms for r in service.readings.rows(SensorId("lg-01.1"), 0, NOW_MS)} == {NOW_MS}
        assert Receipts(service.folder).refused(whole.id).read_text(encoding="utf-8") == expected


def test_a_finished_import_is_not_done_again(tmp_path: Path) -> None:
    path = write_rows(tmp_path / "r.csv", odd_rows())
    with little_service(tmp_path, NOW_MS) as (service, _):
        receipt = take(service, path)
        path.unlink()
        assert import_again(service, receipt) == receipt


def import_again(service: Service, receipt: Receipt) -> Receipt:
    saved = Receipts(service.folder).load(receipt.id)
    assert saved is not None
    return take(service, Path("gone.csv"), receipt=saved)


class DyingBook:
    """A site book that fails after so many notes."""

    def __init__(self, book: IngestBook, notes: int) -> None:
        self._book, self._notes = book, notes
        self.placements, self.arrival, self.refused_ahead = book.placements, book.arrival, book.refused_ahead
        self.followed, self.placed, self.placed_loggers = book.followed, book.placed, book.placed_loggers

    def note(
        self,
        arrivals: Sequence[NewArrivals],
        refused: Sequence[Refused],
        conflicts: Sequence[Conflict],
        heard: Sequence[Heard],
    ) -> None:
        if self._notes == 0:
            raise StoreError("site.db: disk full")
        self._notes -= 1
        self._book.note(arrivals, refused, conflicts, heard)


@pytest.mark.parametrize("notes", range(9))
def test_a_store_that_fails_leaves_a_receipt_that_leads_to_the_same_stores(tmp_path: Path, notes: int) -> None:
    path = write_rows(tmp_path / "r.csv", odd_rows())
    (tmp_path / "other").mkdir()
    with little_service(tmp_path / "other", NOW_MS) as (service, _):
        take(service, path, chunk_rows=11)
        expected = (stored(service, "lg-01.1"), stored(service, "lg-01.2"), kept(service))
    with little_service(tmp_path, NOW_MS) as (service, _):
        receipts, new = Receipts(service.folder), new_receipt(path, LONG, NOW_MS)
        with pytest.raises(StoreError, match="disk full"):
            import_file(
                path,
                new,
                receipts,
                (service.readings, DyingBook(service.book.ingest, notes)),
                service.intake.beside,
                stopped=lambda: False,
                told=lambda _: None,
                chunk_rows=11,
            )
        again = take(service, path, receipt=receipts.load(new.id), chunk_rows=11)
        assert (stored(service, "lg-01.1"), stored(service, "lg-01.2"), kept(service)) == expected
        assert {name: n for name, n in counts(again).items() if name in set(Reason)} == {
            name: n for name, n in FATES.items() if name in set(Reason)
        }


def kept(service: Service) -> set[tuple[object, ...]]:
    refused = {(r.reason, r.sensor, r.detail, r.taken_ms) for r in service.book.board.refused()}
    return refused | {(c.sensor, c.taken_ms, c.kept_milli_c, c.other_milli_c) for c in service.book.board.conflicts()}
