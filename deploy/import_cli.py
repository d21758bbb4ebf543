"""`slabhour import`: a file's rows become readings, or a dry run shows what would become of them."""

from __future__ import annotations

import argparse
import gc
import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event
from typing import Any, Final

from alerts.transport import ChildTransport
from deploy.cli_site import DONE, REFUSED, complain, say, setup_of
from deploy.control import NAME as SOCKET
from deploy.folders import data_folder
from deploy.importing import began, copies, import_file
from deploy.incoming import drop, wait_for
from deploy.maps import load_map, map_beside, map_of
from deploy.receipts import Receipt, Receipts, SensorTally, new_receipt
from deploy.serve import until_told_to_stop
from deploy.wiring import build
from ingest.intake import Intake
from shared.clock import SystemClock
from shared.errors import LockedError
from shared.models.files import ColumnMap
from shared.models.setup import Setup
from shared.ports import IngestBook, ReadingsIn

OPTIONS: Final = (
    "time",
    "date",
    "sensor",
    "value",
    "unit",
    "zone",
    "time_format",
    "delimiter",
    "decimal",
    "header_line",
)
COUNTS: Final = (
    ("stored", "stored"),
    ("repeated", "there already"),
    ("colder", "colder than what was there, which it replaces"),
    ("warmer", "warmer than what is there, which stays"),
    ("blank", "empty"),
)


def _column(text: str) -> dict[str, str]:
    name, equals, sensor = text.rpartition("=")
    if not equals:
        raise argparse.ArgumentTypeError(f"{text!r} is not NAME=SENSOR, like temp1=lg-01.1")
    return {"name": name, "id": sensor}


def add_import(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    parser.add_argument("site", metavar="SITE.toml", help="the site file")
    parser.add_argument("file", metavar="FILE", help="a .csv or .txt; a .parquet or .xlsx with its extra installed")
    parser.add_argument(
        "--map", metavar="MAP.toml", help="how the columns are read (default: FILE.toml, or the site's)"
    )
    parser.add_argument("--time", metavar="COLUMN", help="column of the hour of measuring")
    parser.add_argument("--date", metavar="COLUMN", help="column of its day, where that stands apart")
    parser.add_argument("--sensor", metavar="COLUMN", help="column of the sensor's id")
    parser.add_argument("--value", metavar="COLUMN", help="column of the temperature")
    parser.add_argument(
        "--column",
        dest="columns",
        type=_column,
        action="append",
        metavar="COLUMN=SENSOR",
        help="a column with the temperatures of one sensor; again for each",
    )
    parser.add_argument("--unit", choices=["degC", "degF"], help="of the temperatures")
    parser.add_argument("--zone", help="of hours without an offset: America/Halifax, or fixed: -04:00, UTC")
    parser.add_argument(
        "--time-format", metavar="FORMAT", help='like "%%m/%%d/%%Y %%H:%%M", or unix (default: ISO 8601)'
    )
    parser.add_argument("--delimiter", choices=["comma", "semicolon", "tab"], help="of a CSV (default: comma)")
    parser.add_argument("--decimal", choices=["point", "comma"], help="(default: point)")
    parser.add_argument("--header-line", type=int, metavar="N", help="line that names the columns (default: 1)")
    parser.add_argument("--dry-run", action="store_true", help="show what would become of each row; store nothing")
    parser.add_argument("--again", action="store_true", help="read a file again that was imported already")
    parser.add_argument("--data", default=None, help="another data folder than the site file's")
    parser.add_argument("--json", action="store_true", help="print JSON")


def run_import(args: argparse.Namespace) -> int:
    """Take a file's readings in, or show with --dry-run what would be stored or refused, and why."""
    setup, path, clock = setup_of(args), Path(args.file), SystemClock()
    receipt = new_receipt(path, _map(args, setup, path), began(clock))
    with until_told_to_stop() as stop, _no_garbage():
        if args.dry_run:
            found = _dry_run(setup, path, receipt, stop)
        else:
            found = _import(setup, path, receipt, stop, again=args.again)
    # A service that did it knows the file by another name.
    found.file = path.name
    return _report(found, setup, dry_run=args.dry_run, as_json=args.json)


@contextmanager
def _no_garbage() -> Iterator[None]:
    """Look for no cycles of objects meanwhile: rows make none, and the looks take a fifth of the time."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


def _map(args: argparse.Namespace, setup: Setup, path: Path) -> ColumnMap:
    options: dict[str, Any] = {name: getattr(args, name) for name in OPTIONS if getattr(args, name) is not None}
    if args.columns:
        options["columns"] = args.columns
    base = setup.site.incoming
    if args.map is not None:
        base = load_map(Path(args.map))
    elif map_beside(path).exists():
        base = load_map(map_beside(path))
    return map_of(base, options)


def _dry_run(setup: Setup, path: Path, receipt: Receipt, stop: Event) -> Receipt:
    clock, site_id = SystemClock(), setup.site.site.site_id
    with copies(setup, clock) as apart:

        def intake(readings: ReadingsIn, book: IngestBook) -> Intake:
            return Intake(site_id, readings, book, clock, topics=setup.site.topic)

        ports = (apart.readings, apart.book)
        return import_file(path, receipt, apart.receipts, ports, intake, stopped=stop.is_set, told=Progress())


def _import(setup: Setup, path: Path, receipt: Receipt, stop: Event, *, again: bool) -> Receipt:
    data = data_folder(setup)
    receipts = Receipts(data)
    if again:
        receipts.forget(receipt.id)
    saved = receipts.load(receipt.id) or receipt
    if saved.finished:
        said = "has been imported: nothing to do"
        complain(
            f"{path.name} {said}" + ("; --again reads it again, after the site file was mended" * bool(saved.refused))
        )
        return saved
    try:
        with build(setup, clock=SystemClock(), transport=ChildTransport(setup)) as service:
            ports = (service.readings, service.book.ingest)
            beside = service.intake.beside
            return import_file(path, saved, receipts, ports, beside, stopped=stop.is_set, told=Progress())
    except LockedError:
        if not (data / SOCKET).exists():
            raise
    name = drop(data, path, receipt)
    found = wait_for(data, name, receipt, pause=stop.wait, told=Progress())
    if found is None:
        complain("the service goes on with it")
    return receipt if found is None else found


class Progress:
    """One line on a terminal, written over and over."""

    def __init__(self) -> None:
        self._shown = sys.stderr.isatty()

    def __call__(self, receipt: Receipt) -> None:
        """Show how far the import is."""
        if self._shown:
            end = "\n" if receipt.finished else ""
            done = "#" * round(30 * receipt.fraction)
            sys.stderr.write(f"\r{receipt.file}  [{done:<30}] {receipt.fraction:4.0%}  {receipt.rows} rows{end}")
            sys.stderr.flush()


def _report(receipt: Receipt, setup: Setup, *, dry_run: bool, as_json: bool) -> int:
    refused = Receipts(data_folder(setup)).refused(receipt.id)
    listed = None if dry_run or not receipt.refused else str(refused)
    if as_json:
        about = {"file": receipt.file, "import": receipt.id, "dry_run": dry_run, "finished": receipt.finished}
        say(json.dumps({**about, **receipt.numbers(), "refused_rows": listed}))
    else:
        say("\n".join(_lines(receipt, dry_run, listed)))
    if not receipt.finished:
        complain("stopped; nothing of what is told here is lost, and the same command goes on from there")
    return DONE if receipt.finished and receipt.worked else REFUSED


def _lines(receipt: Receipt, dry_run: bool, listed: str | None) -> Iterator[str]:
    whole = SensorTally()
    for name, _ in COUNTS:
        setattr(whole, name, receipt.total(name))
    for tally in receipt.sensors.values():
        for reason, number in tally.refused.items():
            whole.refused[reason] = whole.refused.get(reason, 0) + number
    head = "dry run, nothing is stored; it would be: " if dry_run else ""
    yield f"{head}{receipt.file}: {receipt.rows} rows: {_counts(whole)}"
    for sensor, tally in sorted(receipt.sensors.items()):
        yield f"  {sensor or '(no sensor)'}: {_counts(tally)}"
    for one in receipt.examples:
        yield f"  line {one.line}: {one.sensor or '(no sensor)'}: {one.reason}: {one.detail}"
    if receipt.refused > len(receipt.examples):
        yield f"  and {receipt.refused - len(receipt.examples)} more"
    if listed is not None:
        yield f"  every refused row: {listed}"


def _counts(tally: SensorTally) -> str:
    said = [f"{getattr(tally, name)} {words}" for name, words in COUNTS if getattr(tally, name) or name == "stored"]
    if tally.refused:
        reasons = ", ".join(f"{number} {reason}" for reason, number in sorted(tally.refused.items()))
        said.append(f"{sum(tally.refused.values())} refused ({reasons})")
    return ", ".join(said)
