"""The sign of life for an outside monitor: sent only when the service has tested itself from end to end.

Otherwise the monitor is told that it failed and why. When neither comes the monitor raises the alarm: what has stopped
cannot.
"""

from __future__ import annotations

import http.client
import json
import logging
import os
import socket
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Final
from urllib.parse import urlsplit

from alerts.channels.webhook import connection_to
from shared.errors import Fault, SetupError
from shared.models.base import Json
from shared.models.setup import Setup

LOG: Final = logging.getLogger(__name__)
TIMEOUT_S: Final = 10.0
FAIL: Final = "/fail"
WATCHED_NOT: Final = "nobody watches this service's silence: [heartbeat] url_file is not set"


def url_of(setup: Setup) -> str | None:
    """Return the monitor's URL, which is a secret; None: nobody watches. Raises `SetupError`."""
    name = setup.site.heartbeat.url_file
    if name is None:
        return None
    try:
        url = Path(setup.folder, name).read_text(encoding="utf-8").strip()
        parts = urlsplit(url)
        usable = parts.scheme in {"http", "https"} and bool(parts.hostname) and not parts.query and not parts.fragment
        found = "no such URL"
    except OSError as error:
        usable, found = False, str(error.strerror)
    except ValueError:
        usable, found = False, "no text, or no URL"
    if not usable:
        allowed = "a file with one http or https URL, without ? and #"
        raise SetupError([Fault("site file", None, "heartbeat.url_file", f"{name}: {found}", allowed)])
    return url.rstrip("/")


def post(url: str, body: Mapping[str, Json], timeout_s: float = TIMEOUT_S) -> str | None:
    """POST JSON once, without following a redirect; return None for a 2xx, or what went wrong, without the URL."""
    parts = urlsplit(url)
    connection = connection_to(parts, parts.port, timeout_s)
    try:
        headers = {"Content-Type": "application/json", "User-Agent": "slabhour"}
        connection.request("POST", parts.path or "/", json.dumps(body), headers)
        status = connection.getresponse().status
    except (OSError, http.client.HTTPException) as error:
        return f"the monitor cannot be reached: {type(error).__name__}"
    finally:
        connection.close()
    return None if 200 <= status < 300 else f"the monitor answered {status}"


def notify(state: str) -> None:
    """Tell the machine's service manager, where it listens."""
    address = os.environ.get("NOTIFY_SOCKET")
    if not address:
        return
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as channel:
        try:
            channel.sendto(state.encode(), "\0" + address[1:] if address.startswith("@") else address)
        except OSError as error:
            LOG.warning("the service manager does not listen: %s", error)


class Heartbeat:
    """Tests the service every so often, and tells the outside how it went."""

    def __init__(
        self,
        site_id: str,
        url: str | None,
        every_s: float,
        test: Callable[[threading.Event], Sequence[str]],
        head: Callable[[], tuple[int, str]],
    ) -> None:
        """`test` returns what is wrong; `head` the log's newest line, which the monitor keeps as an anchor."""
        self._site_id = site_id
        self._url = url
        self._every_s = every_s
        self._test = test
        self._head = head
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="heartbeat", daemon=True)
        self._turned = time.monotonic()
        self._wrong: tuple[str, ...] = ()

    def start(self) -> None:
        """Begin."""
        self._turned = time.monotonic()
        notify("READY=1")
        self._thread.start()

    def close(self) -> None:
        """End; a test that is running is given up."""
        self._closing.set()
        self._thread.join()

    def beat(self) -> tuple[str, ...]:
        """Test once and tell; return what is wrong."""
        wrong = tuple(self._test(self._closing))
        if self._closing.is_set():
            return ()
        if self._url is not None:
            number, digest = self._head()
            body = {"site": self._site_id, "log": number, "hash": digest}
            failed = post(self._url + FAIL, {**body, "reason": "; ".join(wrong)}) if wrong else post(self._url, body)
            if failed is not None:
                LOG.warning("heartbeat: %s", failed)
        return wrong

    def _run(self) -> None:
        while not self._closing.is_set():
            try:
                wrong = self.beat()
            except Exception as error:
                LOG.exception("the heartbeat failed; the next one tries again")
                wrong = (f"the test failed: {type(error).__name__}",)
            self._note(wrong)
            self._turned = time.monotonic()
            self._closing.wait(self._every_s)

    def _note(self, wrong: tuple[str, ...]) -> None:
        """Log each thing that is newly wrong once, not the whole list again whenever one joins it."""
        for one in wrong:
            if one not in self._wrong:
                LOG.warning("self test: %s", one)
        if self._wrong and not wrong:
            LOG.info("self test: all is well")
        self._wrong = wrong
