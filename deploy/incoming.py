"""The watched folder `incoming` in the data folder: a file that is dropped there is imported by the running service.

How it is read says a file beside it (`x.csv.toml`), or `[incoming]` of the site file. What became of it lies with it
in `incoming/done` or `incoming/refused`.
"""

from __future__ import annotations

import json
import logging
import shutil
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from deploy.control import NAME as SOCKET
from deploy.importing import began, import_file
from deploy.maps import load_map, map_beside, to_toml
from deploy.receipts import Receipt, Receipts, new_receipt, to_json, write_json
from deploy.wiring import Service
from ingest.files import TABLES
from shared.errors import Fault, SetupError, SlabError, StoreError
from shared.models.files import ColumnMap

LOG: Final = logging.getLogger(__name__)
FOLDER: Final = "incoming"
DONE, REFUSED = "done", "refused"
EVERY_S: Final = 1.0
CHUNK_ROWS: Final = 2_000
"""Less at a time than a command that has the stores to itself: what comes by message waits for its turn."""
BREATH_S: Final = 0.02
"""Between two chunks, so that rounds and messages are not held up."""


def outcome_path(data: Path, outcome: str, name: str) -> Path:
    """Return where the receipt of a dropped file will lie."""
    return data / FOLDER / outcome / f"{name}.receipt.json"


class WatchedFolder:
    """Looks into the folder in a thread of its own."""

    def __init__(self, service: Service, every_s: float = EVERY_S) -> None:
        self._service = service
        self._every_s = every_s
        self.folder = service.folder / FOLDER
        self._receipts = Receipts(service.folder)
        self._seen: dict[Path, tuple[int, int]] = {}
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="incoming", daemon=True)
        for outcome in (DONE, REFUSED):
            (self.folder / outcome).mkdir(mode=0o700, parents=True, exist_ok=True)

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def close(self) -> None:
        """Finish the chunk that is being taken in, and end; the next start goes on with its file."""
        self._closing.set()
        self._thread.join()

    def look(self) -> None:
        """Take in every file that has not changed since the last look."""
        files = {}
        for path in sorted(self.folder.iterdir()):
            if path.suffix.lower() in TABLES and not path.name.startswith(".") and path.is_file():
                stat = path.stat()
                files[path] = (stat.st_size, stat.st_mtime_ns)
        steady = [path for path, size in files.items() if self._seen.get(path) == size]
        self._seen = files
        for path in steady:
            if not self._closing.is_set():
                self._take(path)

    def _run(self) -> None:
        while not self._closing.wait(self._every_s):
            try:
                self.look()
            except Exception:
                LOG.exception("the look into the watched folder failed; the next one tries again")

    def _take(self, path: Path) -> None:
        try:
            receipt = self._import(path)
        except StoreError as error:
            LOG.error("%s waits: %s", path.name, error)
            return
        except SlabError as error:
            self._put_away(path, REFUSED, str(error), None)
            return
        except FileNotFoundError:
            return
        except Exception as error:
            LOG.exception("%s could not be imported", path.name)
            self._put_away(path, REFUSED, f"a fault of slabhour: {type(error).__name__}: {error}", None)
            return
        if receipt.finished:
            why = None if receipt.worked else "every row was refused"
            self._put_away(path, DONE if receipt.worked else REFUSED, why, receipt)

    def _import(self, path: Path) -> Receipt:
        service = self._service
        new = new_receipt(path, self._columns(path), began(service.clock))
        return import_file(
            path,
            self._receipts.load(new.id) or new,
            self._receipts,
            (service.readings, service.book.ingest),
            service.intake.beside,
            stopped=lambda: self._closing.wait(BREATH_S),
            told=lambda _: None,
            chunk_rows=CHUNK_ROWS,
        )

    def _columns(self, path: Path) -> ColumnMap:
        beside = map_beside(path)
        if beside.exists():
            return load_map(beside)
        columns = self._service.setup.site.incoming
        if columns is None:
            allowed = f"{beside.name} beside it, or [incoming] in the site file"
            raise SetupError([Fault(path.name, None, "column map", "none", allowed)])
        return columns

    def _put_away(self, path: Path, outcome: str, why: str | None, receipt: Receipt | None) -> None:
        """Write down what became of a file, then move it: after a crash between the two it is done once more."""
        body: dict[str, Any] = {"file": path.name, "outcome": outcome, "why": why}
        body["receipt"] = None if receipt is None else to_json(receipt)
        write_json(outcome_path(self._service.folder, outcome, path.name), body)
        for one in (map_beside(path), path):
            if one.exists():
                one.replace(self.folder / outcome / one.name)
        self._seen.pop(path, None)
        LOG.log(logging.INFO if outcome == DONE else logging.WARNING, "%s: %s", path.name, why or outcome)


def dropped_name(path: Path, receipt: Receipt) -> str:
    """Return the name under which a command drops a file: that of its import, so that no two collide."""
    return f"{path.stem}.{receipt.id}{path.suffix}"


def drop(data: Path, path: Path, receipt: Receipt) -> str:
    """Put a file with its map into the watched folder of a running service; return its name there."""
    folder, name = data / FOLDER, dropped_name(path, receipt)
    for outcome in (DONE, REFUSED):
        outcome_path(data, outcome, name).unlink(missing_ok=True)
    map_beside(folder / name).write_text(to_toml(receipt.columns), encoding="utf-8")
    part = folder / f".{name}.part"
    shutil.copyfile(path, part)
    part.replace(folder / name)
    return name


def wait_for(
    data: Path, name: str, receipt: Receipt, *, pause: Callable[[float], bool], told: Callable[[Receipt], None]
) -> Receipt | None:
    """Wait until the service has dealt with a dropped file; return its receipt, None when told to stop.

    Args:
        data: the data folder.
        name: of the dropped file.
        receipt: of the import, to know it by.
        pause: waits so many seconds and says whether to stop.
        told: called with the receipt as it is so far.

    Raises:
        SlabError: the service refused the file, or does not run any more.
    """
    receipts = Receipts(data)
    while not pause(0.2):
        # Asked first: what is not there after the service's end will not come.
        runs = (data / SOCKET).exists()
        for outcome in (DONE, REFUSED):
            if outcome_path(data, outcome, name).exists():
                return _outcome(outcome_path(data, outcome, name), receipts, receipt)
        if not runs:
            raise SlabError(
                f"the service has ended; {name} lies in {data / FOLDER}, and its next start goes on with it"
            )
        if (so_far := receipts.load(receipt.id)) is not None:
            told(so_far)
    return None


def _outcome(path: Path, receipts: Receipts, receipt: Receipt) -> Receipt:
    said = json.loads(path.read_text(encoding="utf-8"))
    if said["receipt"] is None:
        raise SlabError(f"{said['file']}: {said['why']}")
    found = receipts.load(receipt.id)
    if found is None:
        raise StoreError(f"the receipt {receipts.path(receipt.id)} is gone")
    return found
