from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from deploy_support import Ran, little_service, run, write_site
from files_support import OPTIONS, at, write_rows
from ingest_support import until
from readme_support import checkout, shell
from repo_support import ROOT

from alerts.transport import RecordingTransport
from deploy.cli_site import DONE, REFUSED, WRONG_USAGE
from deploy.control import ControlSocket
from deploy.import_cli import Progress
from deploy.incoming import WatchedFolder
from deploy.receipts import Receipt, Receipts
from deploy.wiring import build
from shared.clock import SystemClock
from shared.models.base import DAY_MS, SensorId
from shared.models.files import ColumnMap
from shared.sitefile import load
from shared.store import read_readings

SENSORS = ("lg-01.1", "lg-01.2", "lg-09.1", "lg-02.1")


def now_rows(number: int, step_s: int = 40) -> list[str]:
    """Return so many rows of the last days, in order of time."""
    begin = SystemClock().now() - (number // len(SENSORS)) * step_s * 1000
    assert begin > SystemClock().now() - 13 * DAY_MS
    return [f"{at(n // 4 * step_s / 60, begin)},{SENSORS[n % 4]},{15 + n % 50 / 10}" for n in range(number)]


def command(folder: Path, file: Path, *more: str) -> list[str]:
    return ["import", str(folder / "site.toml"), str(file), *OPTIONS, *more]


def numbers(ran: Ran) -> Any:
    told = ran.json()
    return {name: told[name] for name in ("rows", "sensors", "examples")}


@pytest.fixture
def file(tmp_path: Path) -> Path:
    write_site(tmp_path)
    wrong = [f"{at(0, SystemClock().now())},lg-01.1,warm", f"{at(0, SystemClock().now())},lg-66.1,18"]
    return write_rows(tmp_path / "r.csv", [*now_rows(40), *wrong])


def test_the_dry_run_is_what_then_happens_and_a_second_time_nothing_happens(
    tmp_path: Path, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    dry = run(capsys, command(tmp_path, file, "--dry-run", "--json"))
    assert (dry.code, dry.json()["dry_run"], (tmp_path / "var").exists()) == (DONE, True, False)
    real = run(capsys, command(tmp_path, file, "--json"))
    assert (real.code, real.json()["finished"]) == (DONE, True)
    assert numbers(dry) == numbers(real)
    assert sum(tally["stored"] for tally in real.json()["sensors"].values()) == 40
    again = run(capsys, command(tmp_path, file, "--json"))
    assert (again.code, again.json() | {"file": ""}) == (DONE, real.json() | {"file": ""})
    assert "has been imported: nothing to do; --again reads it again" in again.err
    once_more = run(capsys, command(tmp_path, file, "--again", "--json"))
    assert sum(tally["repeated"] for tally in once_more.json()["sensors"].values()) == 40


def test_what_is_printed_tells_each_sensor_and_each_refusal_with_its_line(
    tmp_path: Path, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = run(capsys, command(tmp_path, file, "--dry-run")).out
    assert (
        "dry run, nothing is stored; it would be: r.csv: 42 rows: 40 stored, 2 refused (1 schema, 1 unknown sensor)"
        in told
    )
    assert "  lg-01.1: 10 stored, 1 refused (1 schema)\n" in told
    assert "  line 42: lg-01.1: schema: 'warm' is no number\n" in told
    assert "  line 43: lg-66.1: unknown sensor: " in told
    assert "every refused row" not in told
    listed = re.search(r"every refused row: (.+)", run(capsys, command(tmp_path, file)).out)
    assert listed
    assert Path(listed[1]).read_text(encoding="utf-8").count("\n") == 3


def test_a_file_of_which_nothing_is_taken_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_site(tmp_path)
    path = write_rows(tmp_path / "r.csv", ["yesterday,lg-01.1,18"])
    assert run(capsys, command(tmp_path, path, "--dry-run")).code == REFUSED
    assert run(capsys, command(tmp_path, path)).code == REFUSED
    assert run(capsys, command(tmp_path, path)).code == REFUSED


def test_a_wide_table_is_told_by_its_columns(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_site(tmp_path)
    (tmp_path / "w.csv").write_text(f"t,temp1,a=b\n{at(0, SystemClock().now())},50,64.4\n", encoding="utf-8")
    columns = ["--column", "temp1=lg-01.1", "--column", "a=b=lg-01.2"]
    ran = run(
        capsys,
        ["import", tmp_path / "site.toml", tmp_path / "w.csv", "--time", "t", "--unit", "degF", *columns, "--json"],
    )
    assert {s: tally["stored"] for s, tally in ran.json()["sensors"].items()} == {"lg-01.1": 1, "lg-01.2": 1}
    wrong = run(capsys, ["import", tmp_path / "site.toml", tmp_path / "w.csv", "--column", "temp1"])
    assert (wrong.code, "is not NAME=SENSOR" in wrong.err) == (WRONG_USAGE, True)


def test_the_map_beside_a_file_or_of_the_site_is_used_and_options_stand_above_it(
    tmp_path: Path, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bare: list[str | Path] = ["import", tmp_path / "site.toml", file, "--dry-run", "--json"]
    assert "found neither sensor with value" in run(capsys, [*bare, "--time", "time", "--unit", "degC"]).err
    site = tmp_path / "site.toml"
    site.write_text(
        site.read_text(encoding="utf-8") + '[incoming]\ntime = "time"\nsensor = "id"\nvalue = "temp"\nunit = "degF"\n',
        encoding="utf-8",
    )
    by_site = run(capsys, bare)
    assert by_site.code == DONE
    beside = file.with_name("r.csv.toml")
    beside.write_text('time = "time"\nsensor = "id"\nvalue = "no such"\nunit = "degF"\n', encoding="utf-8")
    assert "found no no such" in run(capsys, bare).err
    assert numbers(run(capsys, [*bare, "--value", "temp"])) == numbers(by_site)
    named = tmp_path / "other.toml"
    named.write_text('time = "no such"\nsensor = "id"\nvalue = "temp"\nunit = "degF"\n', encoding="utf-8")
    assert "found no no such" in run(capsys, [*bare, "--map", named]).err


def test_a_file_that_is_not_there_is_a_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_site(tmp_path)
    ran = run(capsys, command(tmp_path, tmp_path / "gone.csv"))
    assert (ran.code, "No such file" in ran.err) == (REFUSED, True)


def test_ctrl_c_ends_after_a_piece_and_the_same_command_goes_on_to_the_same_numbers(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_site(tmp_path)
    rows = now_rows(100_000)
    rows[60_000] = rows[60_000].rpartition(",")[0] + ",warm"
    path = write_rows(tmp_path / "r.csv", rows)
    dry = numbers(run(capsys, command(tmp_path, path, "--dry-run", "--json")))
    child = subprocess.Popen(
        [sys.executable, "-m", "deploy.cli", *command(tmp_path, path, "--json")],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    imports = tmp_path / "var" / "imports"
    try:
        until(lambda: list(imports.glob("*.json")) != [], 60)
        child.send_signal(signal.SIGINT)
        out, err = child.communicate(timeout=60)
    finally:
        child.kill()
    assert child.returncode == REFUSED, err
    assert "the same command goes on from there" in err
    stopped = json.loads(out)
    assert (stopped["finished"], 0 < stopped["rows"] < 100_000) == (False, True)
    going_on = run(capsys, command(tmp_path, path, "--json"))
    assert (going_on.code, numbers(going_on)) == (DONE, dry)
    readings = read_readings(load(tmp_path / "site.toml"), tmp_path / "var")
    stored = {s: sum(1 for _ in readings.rows(SensorId(s), 0, SystemClock().now())) for s in SENSORS}
    readings.close()
    # Row 60 000 is of the first sensor; it was no number.
    assert stored == {"lg-01.1": 24_999, "lg-01.2": 25_000, "lg-09.1": 25_000, "lg-02.1": 25_000}


@pytest.fixture
def served(tmp_path: Path) -> Iterator[WatchedFolder]:
    """A service with its socket, that looks into its folder when it is told to."""
    with build(load(write_site(tmp_path)), clock=SystemClock(), transport=RecordingTransport()) as service:
        control = ControlSocket(service.folder, service.apply)
        watched = WatchedFolder(service, every_s=0.05)
        try:
            yield watched
        finally:
            control_closed(control)


def control_closed(control: ControlSocket) -> None:
    control.start()
    control.close()


def test_while_the_service_runs_it_does_the_import_and_the_command_tells_of_it(
    tmp_path: Path, served: WatchedFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = [f"{at(0, SystemClock().now())},lg-01.1,warm"]
    path = write_rows(tmp_path / "r.csv", [*now_rows(5_000), *wrong])
    served.start()
    try:
        dry = run(capsys, command(tmp_path, path, "--dry-run", "--json"))
        real = run(capsys, command(tmp_path, path, "--json"))
        again = run(capsys, command(tmp_path, path, "--json"))
        once_more = run(capsys, command(tmp_path, path, "--again", "--json"))
    finally:
        served.close()
    assert [ran.code for ran in (dry, real, again, once_more)] == [DONE] * 4
    assert numbers(dry)["sensors"] == numbers(real)["sensors"]
    assert "nothing to do" in again.err
    assert {ran.json()["file"] for ran in (dry, real, again, once_more)} == {"r.csv"}
    assert sum(tally["repeated"] for tally in once_more.json()["sensors"].values()) == 5_000
    done = sorted(p.suffixes[-2:] for p in (tmp_path / "var" / "incoming" / "done").iterdir())
    assert done == sorted([[f".{real.json()['import']}", ".csv"], [".csv", ".toml"], [".receipt", ".json"]])


def test_what_the_service_refuses_is_told_by_the_command(
    tmp_path: Path, served: WatchedFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "r.csv"
    path.write_text("when,who,what\n", encoding="utf-8")
    served.start()
    try:
        ran = run(capsys, command(tmp_path, path))
    finally:
        served.close()
    assert (ran.code, "found no time, id, temp" in ran.err) == (REFUSED, True)


def test_a_service_that_ends_in_between_is_told_and_its_next_start_goes_on(
    tmp_path: Path, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with build(load(tmp_path / "site.toml"), clock=SystemClock(), transport=RecordingTransport()) as service:
        control = ControlSocket(service.folder, service.apply)
        incoming = WatchedFolder(service).folder

        def end_when_dropped() -> None:
            until(lambda: list(incoming.glob("*.csv")) != [], 60)
            control_closed(control)

        ending = threading.Thread(target=end_when_dropped)
        ending.start()
        ran = run(capsys, command(tmp_path, file))
        ending.join()
    assert (ran.code, "its next start goes on with it" in ran.err) == (REFUSED, True)
    with build(load(tmp_path / "site.toml"), clock=SystemClock(), transport=RecordingTransport()) as service:
        watched = WatchedFolder(service)
        watched.look()
        watched.look()
        (receipt,) = (tmp_path / "var" / "incoming" / "done").glob("*.receipt.json")
        assert json.loads(receipt.read_text(encoding="utf-8"))["receipt"]["rows"] == 42


def test_while_another_command_holds_the_folder_it_is_refused(
    tmp_path: Path, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with little_service(tmp_path):
        ran = run(capsys, command(tmp_path, file))
    assert (ran.code, "owns" in ran.err) == (REFUSED, True)


def test_progress_is_shown_on_a_terminal_only(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    receipt = Receipt(
        "0", "r.csv", "0", ColumnMap(time="t", sensor="s", value="v", unit="degC"), 0, rows=50, fraction=0.5
    )
    Progress()(receipt)
    assert capsys.readouterr().err == ""
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    shown = Progress()
    shown(receipt)
    receipt.finished, receipt.fraction = True, 1.0
    shown(receipt)
    assert capsys.readouterr().err == f"\rr.csv  [{'#' * 15:<30}]  50%  50 rows\rr.csv  [{'#' * 30}] 100%  50 rows\n"


def test_a_damaged_receipt_is_a_sentence(tmp_path: Path, file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    name = run(capsys, command(tmp_path, file, "--json")).json()["import"]
    Receipts(tmp_path / "var").path(name).write_text("{", encoding="utf-8")
    ran = run(capsys, command(tmp_path, file))
    assert (ran.code, "is damaged" in ran.err) == (REFUSED, True)
    assert run(capsys, command(tmp_path, file, "--again")).code == DONE


def test_the_readmes_example_does_what_it_says(tmp_path: Path) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    found = re.search(r"<!-- try: files -->\n```sh\n(.*?)```", readme, re.DOTALL)
    assert found
    told = shell(found[1], checkout(tmp_path), {"TZ": "UTC", "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)})
    assert told.count("3 rows: 5 stored, 1 refused (1 schema)") == 2
    assert told.count("line 3: lg-01.2: schema: 'warm' is no number") == 2
    exported = (tmp_path / "readings.csv").read_text(encoding="utf-8").splitlines()
    # 64.2 degF = 17.889 degC.
    assert [line.split(",")[2] for line in exported[1:]] == ["17.889", "17.778", "17.667", "17.722", "17.5"]
