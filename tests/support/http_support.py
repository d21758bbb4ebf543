"""The HTTP way in over a bench: posts as a logger of the file, and what is answered."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Final

import httpx
from fastapi import FastAPI
from ingest_support import EDGE, INSIDE, SITE, Bench, placement
from payloads_support import SAMPLES
from web_support import ask

from ingest import http
from ingest.logins import Logins
from ingest.writer import Writer
from shared.models.base import LoggerId, SensorId

EUI: Final = LoggerId("00a1b2c3d4e5f601")
PASSWORDS: Final = {
    LoggerId("lg-01"): "password-of-lg-01",
    LoggerId("lg-02"): "password-of-lg-02",
    EUI: "password-of-the-server",
}
SENSORS: Final = (EDGE, INSIDE, SensorId(f"{EUI}.1"), SensorId(f"{EUI}.2"))
JSON, CBOR, TEXT = "application/senml+json", "application/senml+cbor", "text/plain"
UP: Final = f"/t/application/17/device/{EUI}/event/up"
BOARD: Final = "/t/board/lg-01/1"


class Way:
    """The way in over a bench, with its writer."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.writer = Writer(bench.intake.take, lambda: None)
        self.app = FastAPI(redirect_slashes=False)
        self.app.include_router(http.router(SITE, bench.topics, bench.intake, self.writer, Logins(PASSWORDS)))

    def post(
        self, body: Any, path: str = "/r/lg-01", *, media: str = JSON, by: str = "lg-01", **headers: str
    ) -> httpx.Response:
        """Post as a logger of the file."""
        said = {"Authorization": f"Bearer {PASSWORDS[LoggerId(by)]}", "Content-Type": media, **headers}
        return ask(self.app, "POST", path, content=body, headers=said)


def bench() -> Bench:
    """Return a bench of a site with a topic of every format."""
    return Bench([placement(sensor) for sensor in SENSORS], topics=[sample.topic for sample in SAMPLES.values()])


@contextmanager
def open_way(at: Bench | None = None) -> Iterator[Way]:
    """Run the writer of a way in."""
    way = Way(bench() if at is None else at)
    way.writer.start()
    try:
        yield way
    finally:
        way.writer.stop(5.0)


def said(answer: httpx.Response) -> tuple[int, int, int, int]:
    """Return status, and how many were stored, wait, were refused."""
    body = answer.json()
    return answer.status_code, body["stored"], body["waiting"], body["refused"]
