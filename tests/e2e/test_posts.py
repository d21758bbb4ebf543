"""Readings by HTTP into a whole service: README's command as it stands, and one that dies before it answers."""

from __future__ import annotations

import http.client
import json
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from deploy_support import write_site
from mqtt_support import free_port
from readme_support import checkout, shell
from repo_support import ROOT

from shared.clock import SystemClock

POSTING = Path(__file__).parents[1] / "support" / "posting_process.py"
BEARER = "a-password-of-lg-01"


def site_in(folder: Path) -> Path:
    (folder / "loggers").write_text(f"lg-01 {BEARER}\n", encoding="utf-8")
    web = '[web]\nport = 0\nloggers_file = "loggers"\n'
    return write_site(folder, **{"port = 1883": f"port = {free_port()}", "[web]\nport = 0\n": web})


@contextmanager
def posting(site: Path, *step: str) -> Iterator[tuple[subprocess.Popen[str], int]]:
    process = subprocess.Popen([sys.executable, POSTING, site, *step], stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        yield process, int(process.stdout.readline())
    finally:
        process.kill()
        process.communicate()


def post(port: int, body: str) -> tuple[int, dict[str, object]]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    headers = {"Authorization": f"Bearer {BEARER}", "Content-Type": "application/senml+json"}
    with closing(connection):
        connection.request("POST", "/r/lg-01", body, headers)
        answer = connection.getresponse()
        return answer.status, json.loads(answer.read())


def rows(path: Path, query: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as db:
        return db.execute(query).fetchall()


@pytest.mark.row("N3")
@pytest.mark.parametrize("step", ["merged", "noted"])
def test_killed_between_the_commit_and_the_answer_it_stores_what_comes_again_once(tmp_path: Path, step: str) -> None:
    site, var = site_in(tmp_path), tmp_path / "var"
    taken = SystemClock().now() // 1000 - 60
    good = f'{{"bn":"lg-01.","bt":{taken},"bu":"Cel","n":"1","v":17.5}},{{"n":"2","v":18.25}}'
    body = f'[{good},{{"n":"1","t":-60,"v":99}}]'
    with posting(site, step) as (process, port):
        with pytest.raises((ConnectionError, http.client.HTTPException)):
            post(port, body)
        assert process.wait(60) == -signal.SIGKILL
    assert rows(var / "readings.db", "SELECT count(*) FROM reading") == [(2,)]
    expected = {"stored": 2, "waiting": 0, "refused": 1}
    with posting(site) as (process, port):
        for _ in range(2):
            status, answer = post(port, body)
            assert (status, answer | {"reasons": []}) == (200, {**expected, "reasons": []})
        assert rows(var / "readings.db", "SELECT count(*) FROM reading") == [(2,)]
        told = rows(var / "site.db", "SELECT sensor, revision FROM arrival ORDER BY sensor")
        # What came before this process noted it counts as news once more; never is it no news.
        assert [sensor for sensor, _ in told] == ["lg-01.1", "lg-01.2"]
        assert all(revision in {1, 2} for _, revision in told)
        assert len(rows(var / "site.db", "SELECT reason FROM refused WHERE reason = 'range'")) == 1
        process.terminate()
        assert process.wait(60) == 0


@pytest.mark.skipif(shutil.which("curl") is None, reason="curl is not installed")
def test_readmes_command_posts_readings_that_are_stored(tmp_path: Path) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    block = re.search(r"<!-- try: http -->\n```sh\n(.*?)```\n\nIt answers `(.*?)`", readme, re.DOTALL)
    assert block
    site = site_in(tmp_path)
    sensors = '{ id = "lg-01.2", zone = "interior" }, { id = "lg-09.1", zone = "air" },'
    text = site.read_text(encoding="utf-8")
    assert sensors in text
    site.write_text(text.replace(sensors, sensors.replace("lg-09.1", "lg-01.3")), encoding="utf-8")
    with posting(site) as (_, port):
        assert shell(block[1], checkout(tmp_path), {"WEB_PORT": str(port)}) == block[2]
        assert rows(tmp_path / "var" / "readings.db", "SELECT count(*) FROM reading") == [(3,)]
