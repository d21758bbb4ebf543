"""Weather for tests: in our own form, a book that keeps it in memory, a provider on this machine."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread

from shared.errors import StoreError
from shared.models.acts import instant
from shared.models.base import HOUR_MS, Ms
from shared.models.weather import WeatherHeard, WeatherHour, WeatherIssue

NOTHING: Mapping[str, float] = {}


def payload(from_ms: Ms, hours: int = 48, *, mean_c: float = 0.0, swing_c: float = 3.0, **changes: object) -> bytes:
    """Return a JSON in our own form from an hour on, coldest six hours later; `changes` replace its top keys."""
    rows = [
        {"at": instant(from_ms + h * HOUR_MS).isoformat(), "air_c": mean_c - swing_c * math.sin(h / 24 * math.tau)}
        for h in range(hours)
    ]
    return json.dumps({"issued_at": instant(from_ms).isoformat(), "hours": rows, **changes}).encode()


def issue_of(
    from_ms: Ms,
    air_c: Sequence[float],
    *,
    source: str = "weather.csv",
    issued_ms: Ms | None = None,
    said: Mapping[str, float] = NOTHING,
) -> WeatherIssue:
    """Return an issue of so many hours from an hour on, with the others the same in each."""
    hours = tuple(WeatherHour(from_ms + h * HOUR_MS, c, **said) for h, c in enumerate(air_c))
    made_ms = from_ms if issued_ms is None else issued_ms
    return WeatherIssue(source, made_ms, made_ms, hours)


class FakeWeatherBook:
    """The `WeatherBook` port in memory; `broken`: it fails."""

    def __init__(self) -> None:
        self.issues: list[WeatherIssue] = []
        self.notes: dict[str, WeatherHeard] = {}
        self.broken = False

    def keep(self, issue: WeatherIssue, heard: WeatherHeard) -> bool:
        self.note(heard)
        new = all((i.issued_ms, i.hours) != (issue.issued_ms, issue.hours) for i in self.issues)
        self.issues += [issue] if new else []
        return new

    def note(self, heard: WeatherHeard) -> None:
        if self.broken:
            raise StoreError("the disk is full")
        self.notes[heard.source] = heard

    def heard(self, source: str) -> WeatherHeard | None:
        return self.notes.get(source)

    def since(self, source: str, received_ms: Ms) -> Sequence[WeatherIssue]:
        of = [i for i in self.issues if i.source == source]
        return [i for i in of if i.received_ms >= received_ms or i is of[-1]]

    def forget(self, before_ms: Ms) -> int:
        before = len(self.issues)
        self.issues = [i for i in self.issues if i.received_ms >= before_ms or i is self.issues[-1]]
        return before - len(self.issues)


class Provider:
    """What a provider on this machine answers next, and what it was asked."""

    def __init__(self) -> None:
        self.status, self.headers, self.body = 200, dict[str, str](), b""
        self.asked: list[Mapping[str, str]] = []
        self.url = ""


@contextmanager
def provider() -> Iterator[Provider]:
    """Run a provider."""
    at = Provider()

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            at.asked.append({name.lower(): value for name, value in self.headers.items()} | {"path": self.path})
            self.send_response(at.status)
            for name, value in (*at.headers.items(), ("Content-Length", str(len(at.body)))):
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(at.body)

        def log_message(self, *_: object) -> None:
            return

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    thread = Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    at.url = f"http://127.0.0.1:{server.server_port}/v1?key=planted"
    try:
        yield at
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
