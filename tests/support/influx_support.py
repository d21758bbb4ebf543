"""Debian's InfluxDB and victoria-metrics on this machine, each in a folder of its own, ended by its own handle.

Debian ships InfluxDB 1.6.7, which has the engine of 1.8 and 2.x and not their path for writing. `Adapter` gives it that
path: it changes addresses and no body, so that the very bytes of influxdb-client meet a real engine. Only tests use it.
"""

from __future__ import annotations

import http.client
import shutil
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import sha256
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, Final
from urllib.parse import parse_qsl, urlencode, urlsplit

import pytest
from mqtt_support import free_port
from store_support import make_setup, make_site, site_dict

from shared.models.setup import Setup
from shared.models.stores import InfluxSettings

INFLUXD: Final = shutil.which("influxd")
VICTORIA: Final = shutil.which("victoria-metrics")
BUCKET: Final = "slab"
NEEDS_INFLUXDB: Final = (
    pytest.mark.needs_influxdb,
    pytest.mark.skipif(INFLUXD is None, reason="Debian's influxdb is not installed"),
)
NEEDS_VICTORIA: Final = (
    pytest.mark.needs_influxdb,
    pytest.mark.skipif(VICTORIA is None, reason="Debian's victoria-metrics is not installed"),
)
_CONFIG: Final = """\
reporting-disabled = true
bind-address = "127.0.0.1:{inner}"
[meta]
dir = "{folder}/meta"
[data]
dir = "{folder}/data"
wal-dir = "{folder}/wal"
[http]
bind-address = "127.0.0.1:{port}"
log-enabled = false
[monitor]
store-enabled = false
"""


def settings_of(url: str, bucket: str = BUCKET, **more: str) -> InfluxSettings:
    """Return settings for a server."""
    return InfluxSettings.model_validate({"kind": "influxdb", "url": url, "bucket": bucket, **more})


def influx_setup(url: str, site: str = "millrace", folder: str = ".", bucket: str = BUCKET, **more: str) -> Setup:
    """Return the set-up of a site whose readings are on a server."""
    stores = {"readings": {"kind": "influxdb", "url": url, "bucket": bucket, **more}}
    return make_setup(make_site(site=site_dict()["site"] | {"id": site}, stores=stores), folder=folder)


def site_in(folder: Path) -> str:
    """Return a site id of a folder's own, so that stores in two folders are apart on one server."""
    return "t-" + sha256(str(folder).encode()).hexdigest()[:20]


class Server:
    """A server program that can be killed and started again on what it left."""

    def __init__(self, command: list[str], port: int, ping: str, log: Path) -> None:
        self.port = port
        self._command = command
        self._ping = ping
        self._log = log
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Return when it answers."""
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(self._command, stdout=log, stderr=log)
        end = time.monotonic() + 30
        while not self._answers():
            assert self._process.poll() is None, self._log.read_text()[-2000:]
            assert time.monotonic() < end
            threading.Event().wait(0.02)

    def _answers(self) -> bool:
        try:
            return ask(self.port, "GET", self._ping)[0] < 300
        except OSError:
            return False

    def kill(self) -> None:
        """End it without a chance to write anything down."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None


def ask(port: int, method: str, target: str, body: bytes | None = None, **headers: str) -> tuple[int, bytes]:
    """Return status and body of an answer."""
    link = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    try:
        link.request(method, target, body, headers)
        answer = link.getresponse()
        return answer.status, answer.read()
    finally:
        link.close()


def influxd(folder: Path) -> Server:
    """Return Debian's InfluxDB, not yet started."""
    folder.mkdir(parents=True, exist_ok=True)
    port = free_port()
    config = folder / "influxdb.conf"
    config.write_text(_CONFIG.format(folder=folder, port=port, inner=free_port()))
    return Server([str(INFLUXD), "run", "-config", str(config)], port, "/ping", folder / "influxd.log")


def victoria(folder: Path) -> Server:
    """Return Debian's victoria-metrics, not yet started."""
    folder.mkdir(parents=True, exist_ok=True)
    port = free_port()
    data = [f"-storageDataPath={folder}/data", "-retentionPeriod=100y", "-search.latencyOffset=0s"]
    listen = [f"-httpListenAddr=127.0.0.1:{port}", "-memory.allowedBytes=256MB"]
    return Server([str(VICTORIA), *data, *listen], port, "/health", folder / "victoria.log")


class Adapter(ThreadingHTTPServer):
    """Hands everything on to a server; `/api/v2/write` becomes `/write`, other paths of version 2 are not there."""

    daemon_threads = True
    request_queue_size = 64

    def __init__(self, behind: int) -> None:
        super().__init__(("127.0.0.1", 0), _Handler)
        self.behind = behind
        self.lose_answers = 0
        """So many answers to writes are thrown away after the server gave them."""

    @property
    def url(self) -> str:
        """Where it listens."""
        return f"http://127.0.0.1:{self.server_port}"

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A server that was killed is what some tests are about."""


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    disable_nagle_algorithm = True
    wbufsize = -1
    server: Adapter

    def do_GET(self) -> None:
        self.do_POST()

    def do_HEAD(self) -> None:
        self.do_POST()

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers.get("Content-Length", "0")))
        writes, target = _target(self.path)
        kept = ("Content-Encoding", "Content-Type", "Authorization")
        headers = {name: self.headers[name] for name in kept if name in self.headers}
        try:
            link = http.client.HTTPConnection("127.0.0.1", self.server.behind, timeout=20)
            try:
                link.request(self.command, target, body or None, headers)
                answer = link.getresponse()
                status, said = answer.status, answer.read()
            finally:
                link.close()
        except OSError:
            self.close_connection = True
            return
        if writes and self.server.lose_answers:
            self.server.lose_answers -= 1
            self.close_connection = True
            return
        self.send_response(status)
        for name in ("Content-Type", "X-Influxdb-Version"):
            if answer.getheader(name):
                self.send_header(name, str(answer.getheader(name)))
        if status != 204:
            self.send_header("Content-Length", str(len(said)))
        self.end_headers()
        self.wfile.write(said)

    def log_message(self, *args: Any) -> None:
        """Say nothing."""


def _target(path: str) -> tuple[bool, str]:
    parts = urlsplit(path)
    if parts.path != "/api/v2/write":
        return False, path
    asked = dict(parse_qsl(parts.query))
    return True, "/write?" + urlencode({"db": asked["bucket"], "precision": asked["precision"]})


@contextmanager
def adapter(behind: int) -> Iterator[Adapter]:
    """Lend a running adapter in front of a server's port."""
    with Adapter(behind) as running:
        thread = threading.Thread(target=running.serve_forever, kwargs={"poll_interval": 0.02})
        thread.start()
        try:
            yield running
        finally:
            running.shutdown()
            thread.join()


@contextmanager
def influx_running(folder: Path) -> Iterator[tuple[Server, Adapter]]:
    """Lend Debian's InfluxDB with a bucket, and the adapter in front of it."""
    server = influxd(folder)
    server.start()
    try:
        make_bucket(server)
        with adapter(server.port) as front:
            yield server, front
    finally:
        server.kill()


def make_bucket(server: Server, name: str = BUCKET, keeps: str = "") -> None:
    """Make a database; `keeps` says for how long, such as "WITH DURATION 7d"."""
    body = urlencode({"q": f'CREATE DATABASE "{name}" {keeps}'}).encode()
    kind = "application/x-www-form-urlencoded"
    assert ask(server.port, "POST", "/query", body, **{"Content-Type": kind})[0] == 200
