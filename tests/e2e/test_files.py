"""Files into a running service and tables out of it, by commands and by the watched folder."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from deploy_support import write_site
from files_support import LONG, OPTIONS, at, write_rows
from ingest_support import until
from mqtt_support import free_port

from deploy.maps import map_beside, to_toml
from shared.clock import SystemClock

SLABHOUR = Path(sys.executable).with_name("slabhour")


@contextmanager
def serving(site: Path) -> Iterator[None]:
    process = subprocess.Popen([SLABHOUR, "serve", "--site", site], stdout=subprocess.DEVNULL)
    try:
        until((site.parent / "var" / "control.sock").exists, 60)
        yield
        process.terminate()
        assert process.wait(60) == 0
    finally:
        process.kill()
        process.wait()


def told(*words: str | Path) -> Any:
    ran = subprocess.run([SLABHOUR, *words, "--json"], check=True, capture_output=True, timeout=90)
    return json.loads(ran.stdout)


def test_a_running_service_takes_files_in_and_tables_come_out_beside_it(tmp_path: Path) -> None:
    site = write_site(tmp_path, **{"port = 1883": f"port = {free_port()}"})
    begin = SystemClock().now() - 86_400_000
    rows = [f"{at(n, begin)},lg-01.{1 + n % 2},18" for n in range(1000)]
    path = write_rows(tmp_path / "r.csv", [*rows, f"{at(0, begin)},lg-66.1,18"])
    with serving(site):
        dry = told("import", site, path, *OPTIONS, "--dry-run")
        real = told("import", site, path, *OPTIONS)
        assert (dry["sensors"], real["finished"]) == (real["sensors"], True)
        dropped = write_rows(tmp_path / "s.csv", [f"{at(n, begin)},lg-09.1,5" for n in range(100)])
        incoming = tmp_path / "var" / "incoming"
        map_beside(incoming / "s.csv").write_text(to_toml(LONG), encoding="utf-8")
        dropped.replace(incoming / "s.csv")
        until((incoming / "done" / "s.csv.receipt.json").exists, 60)
        assert told("export", site, "readings", "--out", tmp_path / "o.csv")["rows"] == 1100
