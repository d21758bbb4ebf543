"""Browsers that ask for pages in an even beat, in a process of their own: told what and how often by `pages`.

Each time is taken from the moment at which a page was due to be asked for, so that a server that holds up one visitor
is not spared the next ones.
"""

from __future__ import annotations

import http.client
import json
import sys
import threading
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Final

BROWSERS: Final = 8
_HERE: Final = threading.local()


def _connection(port: int) -> http.client.HTTPConnection:
    if not hasattr(_HERE, "connection"):
        _HERE.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30.0)
    connection: http.client.HTTPConnection = _HERE.connection
    return connection


def ask(port: int, path: str, due_s: float) -> tuple[str, float, int]:
    """Ask for a page when it is due; return its path, the time since it was due [s], and its size [bytes].

    Raises:
        RuntimeError: it is not answered with a page.
    """
    wait = due_s - time.perf_counter()
    if wait > 0:
        threading.Event().wait(wait)
    connection = _connection(port)
    connection.request("GET", path, headers={"Accept-Encoding": "gzip", "Host": f"127.0.0.1:{port}"})
    answer = connection.getresponse()
    body = answer.read()
    if answer.status != http.HTTPStatus.OK:
        raise RuntimeError(f"{path} is answered with {answer.status}")
    return path, time.perf_counter() - due_s, len(body)


def asked(port: int, paths: Sequence[str], per_s: float, seconds: float) -> list[tuple[str, float, int]]:
    """Ask for pages, one after the other, for so long."""
    begun = time.perf_counter() + 0.1
    due = [(paths[n % len(paths)], begun + n / per_s) for n in range(round(per_s * seconds))]
    with ThreadPoolExecutor(BROWSERS) as browsers:
        return list(browsers.map(lambda one: ask(port, *one), due))


def main() -> int:
    """Do what the first line says at each further line."""
    told = json.loads(sys.stdin.readline())
    for _ in sys.stdin:
        sys.stdout.write(json.dumps(asked(told["port"], told["paths"], told["per_s"], told["seconds"])) + "\n")
        sys.stdout.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
