from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from deploy_support import little_service
from files_support import LONG, NOW_MS, at, counts, odd_rows, write_rows
from ingest_support import until

import deploy.incoming
from deploy.importing import import_file
from deploy.incoming import DONE, REFUSED, WatchedFolder, drop, outcome_path
from deploy.maps import map_beside, to_toml
from deploy.receipts import Receipts, new_receipt
from shared.errors import StoreError
from shared.models.base import SensorId


def outcome(folder: Path, which: str, name: str) -> Any:
    return json.loads(outcome_path(folder / "var", which, name).read_text(encoding="utf-8"))


def put(folder: Path, name: str, rows: list[str], *, mapped: bool = True) -> Path:
    path = write_rows(folder / "var" / "incoming" / name, rows)
    if mapped:
        map_beside(path).write_text(to_toml(LONG), encoding="utf-8")
    return path


def test_a_dropped_file_is_taken_in_and_put_away_with_its_receipt(tmp_path: Path) -> None:
    with little_service(tmp_path, NOW_MS) as (service, _):
        watched = WatchedFolder(service)
        path = put(tmp_path, "r.csv", odd_rows())
        watched.look()
        assert path.exists()  # it may still be growing
        watched.look()
        assert not path.exists()
        said = outcome(tmp_path, DONE, "r.csv")
        assert (said["outcome"], said["why"], said["receipt"]["rows"]) == ("done", None, len(odd_rows()))
        kept = sorted(p.name for p in (tmp_path / "var" / "incoming" / "done").iterdir())
        assert kept == ["r.csv", "r.csv.receipt.json", "r.csv.toml"]
        receipt = Receipts(service.folder).load(said["receipt"]["id"])
        assert receipt is not None
        assert counts(receipt)["stored"] == 40


def test_a_file_that_grows_is_left_alone(tmp_path: Path) -> None:
    with little_service(tmp_path, NOW_MS) as (service, _):
        watched = WatchedFolder(service)
        for n in range(1, 4):
            path = put(tmp_path, "r.csv", odd_rows()[:n])
            watched.look()
            assert path.exists()


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("r.csv", 'time = "time"\n', "unit: found nothing"),
        ("r.csv", None, "column map: found none; allowed: r.csv.toml beside it, or [incoming] in the site file"),
        ("r.csv", 'time="t"\nsensor="id"\nvalue="temp"\nunit="degC"\n', "found no t"),
        ("r.xlsx", to_toml(LONG), "allowed: an XLSX workbook"),
    ],
)
def test_what_cannot_be_read_is_put_away_with_the_reason(
    tmp_path: Path, name: str, text: str | None, said: str
) -> None:
    with little_service(tmp_path, NOW_MS) as (service, _):
        watched = WatchedFolder(service)
        path = put(tmp_path, name, odd_rows(), mapped=False)
        if text is not None:
            map_beside(path).write_text(text, encoding="utf-8")
        watched.look()
        watched.look()
        assert said in outcome(tmp_path, REFUSED, name)["why"]
        assert not path.exists()


def test_a_file_of_which_every_row_is_refused_is_refused_with_its_receipt(tmp_path: Path) -> None:
    with little_service(tmp_path, NOW_MS) as (service, _):
        watched = WatchedFolder(service)
        put(tmp_path, "r.csv", ["yesterday,lg-01.1,18"])
        watched.look()
        watched.look()
        said = outcome(tmp_path, REFUSED, "r.csv")
        assert (said["why"], said["receipt"]["rows"]) == ("every row was refused", 1)


def test_other_things_in_the_folder_are_left_alone(tmp_path: Path) -> None:
    with little_service(tmp_path, NOW_MS) as (service, _):
        watched = WatchedFolder(service)
        folder = tmp_path / "var" / "incoming"
        for name in ("notes.pdf", ".r.csv.part", ".r.csv"):
            (folder / name).write_text("x", encoding="utf-8")
        (folder / "r.csv").mkdir()
        watched.look()
        watched.look()
        assert sorted(p.name for p in folder.iterdir()) == [
            ".r.csv",
            ".r.csv.part",
            "done",
            "notes.pdf",
            "r.csv",
            "refused",
        ]


def test_a_store_that_fails_lets_the_file_wait(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with little_service(tmp_path, NOW_MS) as (service, _):
        watched = WatchedFolder(service)
        path = put(tmp_path, "r.csv", odd_rows())

        def failing(*_: Any, **__: Any) -> Any:
            raise StoreError("disk full")

        with monkeypatch.context() as patch:
            patch.setattr(deploy.incoming, "import_file", failing)
            watched.look()
            watched.look()
        assert path.exists()
        watched.look()
        assert outcome(tmp_path, DONE, "r.csv")["receipt"]["finished"]


def test_a_fault_of_ours_costs_the_file_and_not_the_thread(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with little_service(tmp_path, NOW_MS) as (service, _):
        watched = WatchedFolder(service, every_s=0.01)
        put(tmp_path, "r.csv", odd_rows())

        def failing(*_: Any, **__: Any) -> Any:
            raise ZeroDivisionError

        with monkeypatch.context() as patch:
            patch.setattr(deploy.incoming, "import_file", failing)
            watched.start()
            until(outcome_path(tmp_path / "var", REFUSED, "r.csv").exists)
        put(tmp_path, "s.csv", odd_rows())
        until(outcome_path(tmp_path / "var", DONE, "s.csv").exists)
        watched.close()
        assert "ZeroDivisionError" in outcome(tmp_path, REFUSED, "r.csv")["why"]


def test_a_service_that_stops_goes_on_with_the_file_at_its_next_start(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(deploy.incoming, "CHUNK_ROWS", 5)
    rows = [f"{at(n)},lg-01.1,18" for n in range(1000)]
    with little_service(tmp_path, NOW_MS) as (service, _):
        watched = WatchedFolder(service, every_s=0.01)
        path = put(tmp_path, "r.csv", rows)
        receipts, name = Receipts(service.folder), new_receipt(path, LONG, NOW_MS).id
        watched.start()
        until(lambda: receipts.load(name) is not None)
        watched.close()
        stopped = receipts.load(name)
        assert stopped is not None
        assert (stopped.finished, path.exists()) == (False, True)
    with little_service(tmp_path, NOW_MS) as (service, _):
        watched = WatchedFolder(service)
        watched.look()
        watched.look()
        assert outcome(tmp_path, DONE, "r.csv")["receipt"]["rows"] == 1000
        assert sum(1 for _ in service.readings.rows(SensorId("lg-01.1"), 0, NOW_MS)) == 1000


def test_a_crash_between_receipt_and_putting_away_is_made_good(tmp_path: Path) -> None:
    with little_service(tmp_path, NOW_MS) as (service, _):
        path = put_folder(tmp_path, service.folder)
        receipt = new_receipt(path, LONG, NOW_MS)
        ports = (service.readings, service.book.ingest)
        import_file(
            path,
            receipt,
            Receipts(service.folder),
            ports,
            service.intake.beside,
            stopped=lambda: False,
            told=lambda _: None,
        )
        watched = WatchedFolder(service)
        watched.look()
        watched.look()
        assert outcome(tmp_path, DONE, path.name)["receipt"]["sensors"]["lg-01.1"]["repeated"] == 1
        assert not path.exists()


def put_folder(folder: Path, data: Path) -> Path:
    (data / "incoming").mkdir()
    return put(folder, "r.csv", odd_rows())


def test_a_command_drops_a_file_whole_and_with_its_map(tmp_path: Path) -> None:
    path = write_rows(tmp_path / "r.csv", odd_rows())
    with little_service(tmp_path, NOW_MS) as (service, _):
        watched = WatchedFolder(service)
        receipt = new_receipt(path, LONG, NOW_MS)
        name = drop(service.folder, path, receipt)
        assert name == f"r.{receipt.id}.csv"
        watched.look()
        watched.look()
        assert outcome(tmp_path, DONE, name)["receipt"]["id"] == receipt.id
