"""An InfluxDB over HTTP: line protocol in, InfluxQL out, through influxdb-client's own connections.

Of the client only the synchronous write is used: its batching returns before anything is sent and gives up silently.
Trying again is ours, for a few seconds; after that the caller is told and nothing is acknowledged. InfluxQL is the one
language that 1.8 and 2.x both serve.
"""

from __future__ import annotations

import json
import random
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from threading import Event
from typing import Any, Final, TypeVar

from influxdb_client import InfluxDBClient, WritePrecision
from influxdb_client.client.write_api import SYNCHRONOUS
from influxdb_client.rest import ApiException
from urllib3.exceptions import HTTPError, NewConnectionError
from urllib3.exceptions import TimeoutError as NoAnswerError

from shared.errors import StoreError
from shared.models.stores import InfluxSettings

CONNECT_MS: Final = 3_000
READ_MS: Final = 10_000
PATIENCE_S: Final = 5.0
"""How long one call goes on trying; then the batch stays with the broker, and the listener tries again."""
FIRST_WAIT_S: Final = 0.1
LONGEST_WAIT_S: Final = 2.0
SILENT_S: Final = 5.0
"""After a server that did not answer in time nobody waits for it again so soon: a round over many sensors would
otherwise wait for each of them."""
LINES: Final = 5_000
"""Lines of one request."""
_AGAIN: Final = frozenset({408, 425, 429, 500, 502, 503, 504})
_FAULTY: Final = frozenset({400, 413, 422})
_T = TypeVar("_T")


class _PassingError(StoreError):
    """It may work later."""

    after_s: float | None = None


class _FaultyError(StoreError):
    """Something in the lines is not taken, now or later."""


@dataclass(frozen=True, slots=True)
class Found:
    """One series of an answer."""

    tags: dict[str, str]
    values: list[list[Any]]


@dataclass(frozen=True, slots=True)
class FaultyLine:
    """A line that the server will not take, and its own words why."""

    line: str
    why: str


def token_of(settings: InfluxSettings, folder: Path) -> str | None:
    """Return the token; None: the server asks for none. Raises `StoreError`."""
    if settings.token_file is None:
        return None
    try:
        return (folder / settings.token_file).read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise StoreError(f"the token of InfluxDB, {settings.token_file}, cannot be read: {error}") from error


class InfluxServer:
    """One bucket of one server. Nothing is sent before the first use; threads may share it."""

    def __init__(self, settings: InfluxSettings, folder: Path) -> None:
        """`folder` is where relative paths of the settings start. Raises `StoreError`."""
        self.bucket: Final = settings.bucket
        self.org: Final = settings.org
        self.where: Final = f"InfluxDB at {settings.url}"
        ca = None if settings.ca_file is None else folder / settings.ca_file
        if ca is not None and not ca.is_file():
            raise StoreError(f"{self.where}: {settings.ca_file}, its authority, is not there")
        self.client: Final = InfluxDBClient(
            settings.url,
            token=token_of(settings, folder) or "",
            org=settings.org,
            timeout=(CONNECT_MS, READ_MS),
            ssl_ca_cert=None if ca is None else str(ca),
        )
        self._writing = self.client.write_api(write_options=SYNCHRONOUS)
        self._closing = Event()
        self._silent_until = 0.0

    def close(self) -> None:
        """Give back what was opened; whoever waits is sent away."""
        if not self._closing.is_set():
            self._closing.set()
            self._writing.close()
            self.client.close()

    def write(self, lines: Sequence[str]) -> list[FaultyLine]:
        """Return when every line is stored but those returned, which the server will never take.

        Raises:
            StoreError: not all is stored; all may be written again.
        """
        return [faulty for first in range(0, len(lines), LINES) for faulty in self._put(lines[first : first + LINES])]

    def _put(self, lines: Sequence[str]) -> list[FaultyLine]:
        """Halve what is not taken until each bad line stands alone: servers differ in what they store of the rest."""
        try:
            self.patiently("write", lambda: self._post(lines))
        except _FaultyError as error:
            if len(lines) == 1:
                return [FaultyLine(lines[0], str(error))]
            half = len(lines) // 2
            return [*self._put(lines[:half]), *self._put(lines[half:])]
        return []

    def _post(self, lines: Sequence[str]) -> None:
        body = "\n".join(lines).encode()
        precision: Any = WritePrecision.MS  # text, whatever its own signature says
        self._writing.write(self.bucket, self.org, body, write_precision=precision)

    def query(self, statements: Sequence[str]) -> list[list[Found]]:
        """Return the series that each statement found; hours are milliseconds. Raises `StoreError`."""
        if not statements:
            return []
        return self.patiently("read", lambda: self._found(statements))

    def _found(self, statements: Sequence[str]) -> list[list[Found]]:
        results = self._asked("; ".join(statements)).get("results", ())
        for result in results:
            if "error" in result:
                raise StoreError(self._said("read", result["error"]))
            if result.get("partial") or any(series.get("partial") for series in result.get("series", ())):
                # A history with a piece missing must not be taken for the whole of it.
                raise StoreError(self._said("read", "it cuts its answers short: set max-row-limit = 0"))
        if len(results) != len(statements):
            raise StoreError(self._said("read", f"{len(results)} answers to {len(statements)} questions"))
        series = [result.get("series", ()) for result in results]
        return [[Found(one.get("tags", {}), one["values"]) for one in some] for some in series]

    def _asked(self, text: str) -> dict[str, Any]:
        response = self.client.api_client.call_api(
            "/query",
            "POST",
            query_params=[("db", self.bucket), ("epoch", "ms")],
            header_params={"Content-Type": "application/x-www-form-urlencoded", "Accept": "application/json"},
            post_params=[("q", text)],
            _preload_content=False,
            _return_http_data_only=True,
            urlopen_kw={},
        )
        answer: dict[str, Any] = json.loads(response.data)
        return answer

    def version(self) -> str:
        """Return what the server calls its version; "unknown" when it does not say. Raises `StoreError`."""
        return str(self.patiently("reach it", self.client.version))

    def patiently(self, doing: str, do: Callable[[], _T]) -> _T:
        """Do it again, later and later, while the server is merely away. Raises `StoreError`."""
        end, wait_s = time.monotonic() + PATIENCE_S, FIRST_WAIT_S
        while True:
            try:
                return self._once(doing, do)
            except _PassingError as error:
                # Not all at the same instant, when many wait for the same server.
                pause_s = error.after_s if error.after_s is not None else wait_s * random.uniform(0.5, 1.0)
                if time.monotonic() + pause_s > end or self._closing.wait(pause_s):
                    raise
                wait_s = min(2 * wait_s, LONGEST_WAIT_S)

    def _once(self, doing: str, do: Callable[[], _T]) -> _T:
        if self._closing.is_set():
            raise StoreError(f"{self.where}: it is closed")
        if time.monotonic() < self._silent_until:
            raise _PassingError(self._said(doing, "it did not answer in time, a moment ago"))
        try:
            return do()
        except ApiException as error:
            raise self._translated(doing, error) from error
        except (HTTPError, OSError) as error:
            if isinstance(error, NoAnswerError) and not isinstance(error, NewConnectionError):
                self._silent_until = time.monotonic() + SILENT_S
            raise _PassingError(self._said(doing, f"{type(error).__name__}: it does not answer")) from error
        except (ValueError, TypeError, KeyError, AttributeError) as error:
            raise StoreError(self._said(doing, f"its answer cannot be read ({type(error).__name__})")) from error

    def _translated(self, doing: str, error: ApiException) -> StoreError:
        said = self._said(doing, _words(error))
        if "WAL" in said:
            said = f"{said}: make room on its disk, then restart it, for it may not write again by itself"
        if error.status in _AGAIN:
            passing = _PassingError(said)
            passing.after_s = _seconds(error.retry_after)
            return passing
        if error.status in {401, 403}:
            return StoreError(f"{said}: it does not accept the token for this bucket, see token_file")
        if error.status == 404:
            return StoreError(f"{said}: slabhour check --fix makes the bucket {self.bucket}")
        if error.status in _FAULTY and "field type conflict" not in said:
            return _FaultyError(said)
        # Another program's fields in our measurements: no reading is at fault, so none is given up.
        return StoreError(said)

    def _said(self, doing: str, why: str) -> str:
        return f"{self.where}: cannot {doing}: {why}"


def _words(error: ApiException) -> str:
    """Return the server's own words; never what was sent, nor the headers."""
    body = error.body.decode("utf-8", "replace") if isinstance(error.body, bytes) else str(error.body or "")
    try:
        told = json.loads(body)
    except ValueError:
        told = None
    if isinstance(told, dict):
        body = str(told.get("message") or told.get("error") or body)
    return f"{error.status} {' '.join(body.split())[:200] or error.reason}"


def _seconds(header: str | None) -> float | None:
    return min(float(header), LONGEST_WAIT_S) if header is not None and header.isdecimal() else None
