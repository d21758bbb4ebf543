from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

import pytest
from deploy_support import POUR, START_MS, act, little_service, write_site
from files_support import FATES, LONG, NOW_MS, at, counts, odd_rows, stored, take, write_rows
from hypothesis import given
from hypothesis import strategies as st
from influx_support import NEEDS_INFLUXDB, influx_running, influx_setup
from ingest_support import MemoryReadings

from deploy.importing import CountedReadings, began, copies, import_file
from deploy.receipts import Receipt, Receipts, new_receipt
from ingest.intake import Intake
from shared.clock import SimulatedClock
from shared.errors import RejectedError, SetupError, StoreError
from shared.models.base import HOUR_MS, MINUTE_MS, SensorId
from shared.models.files import ColumnMap, SensorColumn
from shared.models.readings import Conflict, Reading, Reason
from shared.ports import IngestBook, ReadingsIn
from shared.sitefile import load
from shared.store import open_readings


def dry(folder: Path, path: Path, receipt: Receipt, chunk_rows: int = 7) -> Receipt:
    setup, clock = load(folder / "site.toml"), SimulatedClock(NOW_MS)

    def intake(readings: ReadingsIn, book: IngestBook) -> Intake:
        return Intake(setup.site.site.site_id, readings, book, clock)

    with copies(setup, clock) as apart:
        return import_file(
            path,
            receipt,
            apart.receipts,
            (apart.readings, apart.book),
            intake,
            stopped=lambda: False,
            told=lambda _: None,
            chunk_rows=chunk_rows,
        )


def everything_in(folder: Path) -> dict[str, bytes]:
    # Readers of a database lay an index and an empty log beside it.
    files = (p for p in folder.rglob("*") if p.is_file() and not p.name.endswith("-shm"))
    return {str(p): data for p in sorted(files) if (data := p.read_bytes())}


def test_every_row_has_its_fate_and_every_refusal_its_line(tmp_path: Path) -> None:
    path = write_rows(tmp_path / "r.csv", odd_rows())
    with little_service(tmp_path, NOW_MS) as (service, _):
        receipt = take(service, path)
        assert counts(receipt) == FATES
        assert (receipt.rows, receipt.finished, receipt.fraction) == (len(odd_rows()), True, 1.0)
        # The colder of two values stays, whichever came first.
        assert dict(stored(service, "lg-01.1"))[START_MS + 60 * MINUTE_MS] == 17_500
        assert dict(stored(service, "lg-01.2"))[START_MS + 75 * MINUTE_MS] == 18_050
        assert len(service.book.board.conflicts()) == 2
        lines = Receipts(service.folder).refused(receipt.id).read_text(encoding="utf-8").splitlines()
        text = path.read_text(encoding="utf-8").splitlines()
    told = {int(line.partition(",")[0]) for line in lines[1:]}
    wrong = {n for n, row in enumerate(text, 1) if n > 1 and row not in GOOD}
    assert told == wrong


GOOD = {
    row
    for row in odd_rows()
    if row.count(",") == 2 and "lg-01." in row and row.rpartition(",")[2][:2] in {"17", "18", "19"}
}
GOOD -= {
    f"{at(100 * 60)},lg-01.1,18",
    f"{at(-30 * 24 * 60)},lg-01.1,18",
    "2026-11-24 08:40,lg-01.1,18",
    f'{at(0)},"lg-01.1,18',
}


def test_a_dry_run_tells_what_the_real_run_does_and_leaves_no_trace(tmp_path: Path) -> None:
    path = write_rows(tmp_path / "r.csv", odd_rows())
    with little_service(tmp_path, NOW_MS) as (service, _):
        new = new_receipt(path, take(service, write_rows(tmp_path / "first.csv", odd_rows()[:12])).columns, NOW_MS)
    before = everything_in(tmp_path)
    dried = dry(tmp_path, path, new)
    assert everything_in(tmp_path) == before
    with little_service(tmp_path, NOW_MS) as (service, _):
        real = take(service, path, chunk_rows=7)
    assert dried.numbers() == real.numbers()
    assert counts(real) == {**FATES, "stored": 28, "repeated": 15}


def test_a_dry_run_on_a_site_that_never_ran_makes_no_data_folder(tmp_path: Path) -> None:
    write_site(tmp_path)
    path = write_rows(tmp_path / "r.csv", odd_rows())
    dried = dry(
        tmp_path, path, new_receipt(path, ColumnMap(time="time", sensor="id", value="temp", unit="degC"), NOW_MS)
    )
    assert counts(dried) == FATES
    assert not (tmp_path / "var").exists()


def test_a_dry_run_that_cannot_ask_what_a_server_holds_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shared.store.influx_server.PATIENCE_S", 0.2)
    # Nothing listens at port 9.
    server = 'readings = { kind = "influxdb", url = "http://127.0.0.1:9", bucket = "slab" }'
    write_site(tmp_path, **{'readings = { kind = "sqlite" }': server})
    path = write_rows(tmp_path / "r.csv", odd_rows())
    with pytest.raises(StoreError, match="does not answer"):
        dry(tmp_path, path, new_receipt(path, LONG, NOW_MS))


def test_a_dry_run_beside_a_running_service_sees_what_it_has(tmp_path: Path) -> None:
    path = write_rows(tmp_path / "r.csv", odd_rows())
    with little_service(tmp_path, NOW_MS) as (service, _):
        first = take(service, path)
        dried = dry(tmp_path, path, new_receipt(path, first.columns, NOW_MS))
        again = take(service, path, receipt=new_receipt(path, first.columns, NOW_MS))
    assert dried.numbers()["sensors"] == again.numbers()["sensors"]
    assert dried.total("stored") == 0


@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 3)), max_size=40), st.integers(1, 12))
def test_the_counts_do_not_depend_on_the_size_of_the_pieces(rows: list[tuple[int, int]], size: int) -> None:
    batch = [Reading(SensorId("lg-01.1"), taken, 1000 + milli_c, 0) for taken, milli_c in rows]
    whole, pieces = MemoryReadings(), MemoryReadings()
    one, many = receipt_of_nothing(), receipt_of_nothing()
    CountedReadings(whole, one).merge(batch)
    counted = CountedReadings(pieces, many)
    for begin in range(0, len(batch), size):
        counted.merge(batch[begin : begin + size])
    assert one.numbers() == many.numbers()
    assert whole.values() == pieces.values()
    tally = one.of("lg-01.1")
    assert tally.stored + tally.repeated + tally.colder + tally.warmer == len(batch)
    assert tally.stored == len({taken for taken, _ in rows})


class Choosy(MemoryReadings):
    """Never takes the second sensor."""

    def merge(self, batch: Sequence[Reading]) -> Sequence[Conflict]:
        rejected = [(r, "too old for it") for r in batch if r.sensor == "lg-01.2"]
        conflicts = super().merge([r for r in batch if r.sensor != "lg-01.2"])
        if rejected:
            raise RejectedError(rejected, conflicts)
        return conflicts


def test_rows_that_the_store_never_takes_are_refused_with_their_lines_and_the_others_counted(tmp_path: Path) -> None:
    rows = [f"{at(15 * (n // 2))},lg-01.{1 + n % 2},18" for n in range(8)]
    path, choosy = write_rows(tmp_path / "r.csv", [*rows, rows[1], rows[2]]), Choosy()
    with little_service(tmp_path, NOW_MS) as (service, _):
        receipts = Receipts(service.folder)
        receipt = import_file(
            path,
            new_receipt(path, LONG, NOW_MS),
            receipts,
            (choosy, service.book.ingest),
            service.intake.beside,
            stopped=lambda: False,
            told=lambda _: None,
        )
        (refused,) = service.book.board.refused()
        lines = receipts.refused(receipt.id).read_text(encoding="utf-8").splitlines()[1:]
    first, second = receipt.of("lg-01.1"), receipt.of("lg-01.2")
    assert (first.stored, first.repeated, first.refused) == (4, 1, {})
    assert (second.stored, second.repeated, second.refused) == (0, 0, {Reason.STORE: 5})
    assert (refused.reason, refused.sensor, refused.detail) == (Reason.STORE, "lg-01.2", "too old for it")
    assert sorted(int(line.partition(",")[0]) for line in lines) == [3, 5, 7, 9, 10]
    assert {sensor for sensor, _ in choosy.values()} == {"lg-01.1"}


def receipt_of_nothing() -> Receipt:
    return Receipt("0", "r.csv", "0", ColumnMap(time="t", sensor="s", value="v", unit="degC"), NOW_MS)


def test_the_book_keeps_one_refusal_a_sensor_and_reason_and_every_hour_that_lay_ahead(tmp_path: Path) -> None:
    rows = [f"{at(-60 * 24 * (20 + n))},lg-01.1,18" for n in range(5)]
    rows += [f"{at(60 * (100 + n))},lg-01.1,18" for n in range(5)]
    rows += [f"{at(n)},lg-01.{1 + n % 2},x" for n in range(6)]
    with little_service(tmp_path, NOW_MS) as (service, _):
        take(service, write_rows(tmp_path / "r.csv", rows), chunk_rows=4)
        refused = service.book.board.refused()
        assert sorted((r.reason, r.sensor) for r in refused) == sorted(
            [
                (Reason.CLOCK_PAST, "lg-01.1"),
                *[(Reason.CLOCK_FUTURE, "lg-01.1")] * 5,
                (Reason.SCHEMA, "lg-01.1"),
                (Reason.SCHEMA, "lg-01.2"),
            ]
        )
        assert {r.topic for r in refused} == {"file r.csv"}
        schema = [r for r in refused if r.reason is Reason.SCHEMA]
        assert [r.detail for r in schema] == ["line 12: 'x' is no number", "line 13: 'x' is no number"]


@pytest.mark.row("C3")
def test_an_hour_that_lay_ahead_in_a_file_does_not_ripen(tmp_path: Path) -> None:
    path = write_rows(tmp_path / "r.csv", [f"{at(0, NOW_MS + HOUR_MS)},lg-01.1,18"])
    with little_service(tmp_path, NOW_MS) as (service, clock):
        assert counts(take(service, path)) == {Reason.CLOCK_FUTURE: 1}
        clock.set(NOW_MS + 2 * HOUR_MS)
        new = new_receipt(path, LONG, clock.now())
        assert counts(take(service, path, receipt=new)) == {Reason.CLOCK_FUTURE: 1}


def test_the_pours_are_told_of_what_a_file_brought(tmp_path: Path) -> None:
    warm = {"lg-01.1": 18, "lg-01.2": 18, "lg-09.1": 12}
    rows = [f"{at(15 * n)},{sensor},{celsius}" for n in range(110) for sensor, celsius in warm.items()]
    with little_service(tmp_path, START_MS) as (service, clock):
        service.apply(act("pour_start", START_MS, bay="2-b1", pour=POUR))
        clock.set(START_MS + HOUR_MS)
        service.apply(act("pour_end", START_MS + HOUR_MS, pour=POUR))
        clock.set(NOW_MS)
        service.tick()
        take(service, write_rows(tmp_path / "r.csv", rows))
        service.tick()
        estimate = service.book.board.board()[0].state.estimate
        assert estimate is not None
        assert (estimate.evidence_ms or 0) > START_MS + 27 * HOUR_MS


def test_a_wide_table_in_fahrenheit_and_local_time_comes_in(tmp_path: Path) -> None:
    (tmp_path / "w.csv").write_text("When;A;B\n23.11.2026 08:00;64,4;\n23.11.2026 08:15;64,4;50\n", encoding="utf-8")
    columns = ColumnMap(
        time="When",
        columns=(SensorColumn(name="A", id="lg-01.1"), SensorColumn(name="B", id="lg-01.2")),
        unit="degF",
        zone="America/Halifax",
        time_format="%d.%m.%Y %H:%M",
        delimiter="semicolon",
        decimal="comma",
    )
    with little_service(tmp_path, NOW_MS) as (service, _):
        assert counts(take(service, tmp_path / "w.csv", columns)) == {"stored": 3, "blank": 1}
        # 64.4 degF = 18 degC, 50 degF = 10 degC; 08:00 in Halifax in November is 12:00 UTC.
        assert stored(service, "lg-01.1") == [(START_MS, 18_000), (START_MS + 15 * MINUTE_MS, 18_000)]
        assert stored(service, "lg-01.2") == [(START_MS + 15 * MINUTE_MS, 10_000)]


def test_a_file_without_the_columns_stores_nothing(tmp_path: Path) -> None:
    (tmp_path / "r.csv").write_text("when,who,what\n", encoding="utf-8")
    with little_service(tmp_path, NOW_MS) as (service, _), pytest.raises(SetupError, match="found no time, id, temp"):
        take(service, tmp_path / "r.csv")


def test_by_a_clock_that_cannot_be_right_no_import_begins() -> None:
    with pytest.raises(StoreError, match="clock cannot be right"):
        began(SimulatedClock(1_000))
    assert began(SimulatedClock(NOW_MS)) == NOW_MS


@pytest.mark.needs_influxdb
@NEEDS_INFLUXDB[1]
def test_a_dry_run_before_the_first_start_sees_what_the_bucket_holds(tmp_path: Path) -> None:
    with influx_running(tmp_path / "influxdb") as (_, front):
        with closing(open_readings(influx_setup(front.url), tmp_path)) as store:
            store.merge([Reading(SensorId("lg-01.1"), START_MS, 18_000, START_MS)])
        stores = f'readings = {{ kind = "influxdb", url = "{front.url}", bucket = "slab" }}'
        write_site(tmp_path, **{'readings = { kind = "sqlite" }': stores})
        path = write_rows(tmp_path / "r.csv", [f"{at(0)},lg-01.1,18.0", f"{at(15)},lg-01.1,18.1"])
        told = dry(tmp_path, path, new_receipt(path, LONG, NOW_MS)).of("lg-01.1")
        assert (told.stored, told.repeated) == (1, 1)
        with closing(open_readings(influx_setup(front.url), tmp_path)) as store:
            assert len(store.between(SensorId("lg-01.1"), 0, 2**62)) == 1, "a dry run writes nothing there"
        assert not (tmp_path / "var" / "site.db").exists()
