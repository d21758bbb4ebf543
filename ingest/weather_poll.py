"""Weather that is fetched: a watched file, or a provider that is asked politely. Each look says when the next one is.

Politely: not sooner than was set, with what the provider gave to know by whether anything is new, at its own request
later, and after a failure each time twice as long, to 6 h. A restart does not ask again sooner.
"""

from __future__ import annotations

import http.client
import logging
import random
import ssl
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC
from email.utils import parsedate_to_datetime
from pathlib import Path
from typing import Final, Protocol
from urllib.parse import urlsplit

from ingest.weather import LIMIT_BYTES, Unusable
from ingest.weather_intake import WeatherIntake
from shared.errors import StoreError
from shared.models.base import Ms
from shared.ports import Clock

LOOK_S: Final = 10.0
"""Between two looks at a file."""
AGAIN_S: Final = 60.0
"""After the store failed."""
LONGEST_S: Final = 6 * 3600.0
LONGEST_ASKED_S: Final = 24 * 3600.0
"""So long a provider is left alone at its own request, at most."""
TIMEOUT_S: Final = 20.0
LONGEST_ANSWER_S: Final = 60.0
"""For a whole answer: one that comes by the byte keeps no look, and no end of the service, waiting."""
SPREAD: Final = 0.1
"""Of the wait, by chance, so that sites do not all ask at one moment."""

_log = logging.getLogger(__name__)


class WeatherLoop:
    """Looks again and again, in a thread of its own."""

    def __init__(self, look: Callable[[], float], first_s: Callable[[], float] = lambda: 0.0) -> None:
        """`look` returns the real seconds until the next; `first_s` those until the first."""
        self._look = look
        self._first_s = first_s
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="weather", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def close(self) -> None:
        """Finish the look that is running, and end."""
        self._closing.set()
        if self._thread.ident is not None:
            self._thread.join()

    def _run(self) -> None:
        wait_s = self._safely(self._first_s)
        while not self._closing.wait(wait_s):
            wait_s = self._safely(self._look)

    def _safely(self, step: Callable[[], float]) -> float:
        try:
            return step()
        except StoreError as error:
            _log.error("the weather could not be kept: %s", error)
        except Exception:  # noqa: BLE001  a fault of ours must cost a look, not the thread
            _log.exception("the look at the weather failed; the next one tries again")
        return AGAIN_S


class WatchedWeather:
    """A file that somebody else writes; taken in whenever it has changed and lies still."""

    def __init__(self, path: Path, intake: WeatherIntake) -> None:
        self._path = path
        self._intake = intake
        self._seen: tuple[int, int] | None = None
        self._taken: tuple[int, int] | None = None

    def look(self) -> float:
        """Take the file in if there is something new. Raises `StoreError`: then the next look tries again."""
        try:
            stat = self._path.stat()
            now = (stat.st_size, stat.st_mtime_ns)
            steady, self._seen = now == self._seen, now
            if steady and now != self._taken:
                with self._path.open("rb") as file:
                    payload = file.read(LIMIT_BYTES + 1)
                self._intake.take(payload, is_csv=self._path.suffix.lower() == ".csv")
                self._taken = now
        except OSError as error:
            self._missing(str(error.strerror))
        return LOOK_S

    def _missing(self, why: str) -> None:
        before = self._intake.heard()
        said = f"the file cannot be read: {why}"
        # Once, not at every look.
        if before is None or before.why != said:
            self._intake.failed(said)
        self._seen = self._taken = None


@dataclass(frozen=True, slots=True)
class Answered:
    """What a provider answered."""

    status: int
    headers: Mapping[str, str]
    """By lower-case name."""
    body: bytes


def fetch(url: str, headers: Mapping[str, str]) -> Answered:
    """Ask once, without following a redirect, which could carry a key elsewhere.

    Raises:
        OSError: there was no answer.
        http.client.HTTPException: it was none of HTTP's.
    """
    parts = urlsplit(url)
    host = parts.hostname or ""
    connection: http.client.HTTPConnection
    if parts.scheme == "https":
        context = ssl.create_default_context()
        connection = http.client.HTTPSConnection(host, parts.port, timeout=TIMEOUT_S, context=context)
    else:
        connection = http.client.HTTPConnection(host, parts.port, timeout=TIMEOUT_S)
    try:
        connection.request("GET", (parts.path or "/") + (f"?{parts.query}" if parts.query else ""), headers=headers)
        answer = connection.getresponse()
        body = read_within(answer, time.monotonic() + LONGEST_ANSWER_S)
        return Answered(answer.status, {name.lower(): value for name, value in answer.getheaders()}, body)
    finally:
        connection.close()


class Piecewise(Protocol):
    """An answer of which what has come can be read."""

    def read1(self, n: int = -1, /) -> bytes:
        """Return what is there, up to so many bytes; nothing: it has ended."""
        ...


def read_within(answer: Piecewise, until_s: float) -> bytes:
    """Return an answer, of one that is too long a little more than is taken. Raises `TimeoutError`: it came too slowly.

    Args:
        answer: as it comes.
        until_s: by `time.monotonic`.
    """
    body = b""
    while len(body) <= LIMIT_BYTES and (part := answer.read1(LIMIT_BYTES + 1 - len(body))):
        body += part
        if time.monotonic() > until_s:
            raise TimeoutError("it comes too slowly")
    return body


def asked_wait_s(said: str | None, now_ms: Ms) -> float:
    """Return for how long from now on a provider wants to be left alone, by its Retry-After; 0: it does not say."""
    if said is None:
        return 0.0
    if said.strip().isdigit() and len(said.strip()) < 10:
        return min(float(said), LONGEST_ASKED_S)
    try:
        until = parsedate_to_datetime(said)
    except ValueError:
        return 0.0
    until = until.replace(tzinfo=UTC) if until.tzinfo is None else until
    return max(0.0, min(until.timestamp() - now_ms / 1000.0, LONGEST_ASKED_S))


class PolledWeather:
    """A provider that is asked over HTTP."""

    def __init__(
        self,
        url: str,
        every_s: float,
        headers: Mapping[str, str],
        intake: WeatherIntake,
        clock: Clock,
        roll: Callable[[], float] = random.random,
    ) -> None:
        """`headers`: what the provider wants in the request; `roll`: chance from 0 to 1."""
        self._url, self._every_s, self._headers = url, every_s, dict(headers)
        self._intake, self._clock, self._roll = intake, clock, roll

    def first_s(self) -> float:
        """Return how long to wait before the first look: a restart is no reason to ask again. Raises `StoreError`."""
        heard = self._intake.heard()
        if heard is None:
            return 0.0
        since_s = (self._clock.now() - heard.tried_ms) / 1000.0
        return 0.0 if since_s < 0.0 else max(0.0, self._wait_s(heard.failures) - since_s)

    def look(self) -> float:
        """Ask once; return the seconds until the next time. Raises `StoreError`."""
        heard = self._intake.heard()
        headers = {"Accept": "application/json", "User-Agent": "slabhour", **self._headers}
        if heard is not None and heard.tag is not None:
            headers["If-None-Match"] = heard.tag
        if heard is not None and heard.changed is not None:
            headers["If-Modified-Since"] = heard.changed
        try:
            answered = fetch(self._url, headers)
        except (OSError, http.client.HTTPException, ValueError) as error:
            # Without its text, in which the address may stand.
            return self._wait_s(self._intake.failed(f"cannot be reached: {type(error).__name__}"))
        return self._settled(answered)

    def _settled(self, answered: Answered) -> float:
        asked_s = asked_wait_s(answered.headers.get("retry-after"), self._clock.now())
        if answered.status == 304:
            self._intake.unchanged()
            return max(asked_s, self._wait_s(0))
        if answered.status != 200:
            failures = self._intake.failed(f"answered {answered.status}")
            return max(asked_s, self._wait_s(failures))
        tag, changed = answered.headers.get("etag"), answered.headers.get("last-modified")
        found = self._intake.take(answered.body, tag=tag, changed=changed)
        if not isinstance(found, Unusable):
            return max(asked_s, self._wait_s(0))
        heard = self._intake.heard()
        return max(asked_s, self._wait_s(1 if heard is None else heard.failures))

    def _wait_s(self, failures: int) -> float:
        wait_s = min(max(LONGEST_S, self._every_s), self._every_s * 2.0 ** min(failures, 10))
        return wait_s * (1.0 + SPREAD * self._roll())
