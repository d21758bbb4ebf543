"""What `deploy.bench.ingest` measures on one broker: loggers as processes, a subscriber or the listener, four runs."""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from deploy.bench.brokers import Reached
from deploy.bench.children import PATIENCE_S, Child, ended, go

PUBLISHERS: Final = 2
STUCK_S: Final = 30.0
"""No commit for so long: no more will come."""
FASTEST: Final = 50_000
"""Readings a second that no broker here reaches."""
WINDOW: Final = 20
"""Messages that a logger has on the way, unacknowledged."""


@dataclass
class Bench:
    """One broker with its site."""

    broker: Reached
    folder: Path
    loggers: list[str]
    site_file: Path
    begun_ms: int
    used_ms: int = field(default=0)

    def told(self, role: str, count: int, **more: Any) -> dict[str, Any]:
        """Return what a process of `wire` is told."""
        return {
            "role": role,
            "site": "bench",
            "port": self.broker.port,
            "passwords": dict(self.broker.passwords),
            "loggers": self.loggers,
            "count": count,
            "patience_s": 5.0,
            **more,
        }

    @contextmanager
    def publishers(self, count: int, base_ms: int, seconds: float, rate: float | None) -> Iterator[list[Child]]:
        """Lend publishers that are connected and wait to be told to go."""
        with ExitStack() as stack:
            found = []
            for k in range(PUBLISHERS):
                told = self.told(
                    "publisher",
                    count,
                    first=k,
                    step=PUBLISHERS,
                    base_ms=base_ms,
                    seconds=seconds,
                    rate=None if rate is None else rate / PUBLISHERS,
                    window=WINDOW,
                    file=str(self.folder / f"sent-{k}.npy"),
                )
                found.append(Child("wire", told | {"patience_s": PATIENCE_S}))
                stack.callback(found[-1].close)
            for child in found:
                child.heard()
            yield found

    @contextmanager
    def listener(self, count: int, base_ms: int) -> Iterator[Child]:
        """Lend a listener that is connected."""
        address = self.broker.address
        told = {
            "site_file": str(self.site_file),
            "base_ms": base_ms,
            "count": count,
            "host": address.host,
            "port": address.port,
            "user": address.user,
            "password": address.password,
            "file": str(self.folder / "committed.npy"),
        }
        child = Child("listening", told)
        try:
            child.heard()
            yield child
        finally:
            child.close()

    def base_ms(self, count: int) -> int:
        """Return an hour from which so many milliseconds lie in the past, none of them used before."""
        self.used_ms += count
        return self.begun_ms - self.used_ms

    def sent_ns(self) -> npt.NDArray[np.int64]:
        """Return when each message was published; 0: it was not."""
        parts = [np.load(self.folder / f"sent-{k}.npy") for k in range(PUBLISHERS)]
        whole: npt.NDArray[np.int64] = np.max(parts, axis=0)
        return whole


def _until_all(listener: Child, wanted: int) -> dict[str, Any]:
    """Return what the listener has come to once so many are committed, or no more come."""
    pause, seen, since = threading.Event(), -1, time.monotonic()
    while True:
        found = listener.ask("look")
        if found["committed"] >= wanted or time.monotonic() - since > STUCK_S:
            return found
        if found["committed"] != seen:
            seen, since = found["committed"], time.monotonic()
        pause.wait(0.25)


def bare(bench: Bench, seconds: float, role: str) -> float:
    """Return the readings a second that a subscriber takes which does nothing, of loggers as fast as they can."""
    count = int(seconds * FASTEST)
    with ExitStack() as stack:
        loggers = stack.enter_context(bench.publishers(count, bench.base_ms(count), seconds, None))
        subscriber = Child("wire", bench.told(role, count, seconds=seconds, patience_s=5.0))
        stack.callback(subscriber.close)
        subscriber.heard()
        subscriber.say("go")
        go(loggers)
        ended(loggers)
        (took,) = ended([subscriber])
    return float(took["received"] / took["seconds"])


def full(bench: Bench, seconds: float) -> dict[str, float]:
    """Let the listener take what loggers publish as fast as they can."""
    count = int(seconds * FASTEST)
    base_ms = bench.base_ms(count)
    with bench.listener(count, base_ms) as listener, bench.publishers(count, base_ms, seconds, None) as loggers:
        begun = time.monotonic_ns()
        go(loggers)
        threading.Event().wait(seconds)
        found = listener.ask("look")
        rate = found["committed"] / (found["last_ns"] - begun) * 1e9
        sent = sum(said["sent"] for said in ended(loggers))
        last = _until_all(listener, sent)
    return {"rate": rate, "sent": sent, "committed": last["committed"], "largest_batch": last["largest_batch"]}


def steady(bench: Bench, seconds: float, rate: float) -> dict[str, Any]:
    """Let the listener take so many readings a second; return how long each took, and what memory it held."""
    count = int(seconds * rate)
    base_ms = bench.base_ms(count)
    memory = []
    with bench.listener(count, base_ms) as listener, bench.publishers(count, base_ms, seconds + 5.0, rate) as loggers:
        memory.append(listener.ask("look")["resident_mb"])
        begun = time.monotonic()
        go(loggers)
        threading.Event().wait(seconds / 2.0)
        memory.append(listener.ask("look")["resident_mb"])
        said_all = ended(loggers)
        took = time.monotonic() - begun
        last = _until_all(listener, count)
        listener.ask("save")
        memory.append(last["resident_mb"])
    sent_ns, committed_ns = bench.sent_ns(), np.load(bench.folder / "committed.npy")
    both = (sent_ns > 0) & (committed_ns > 0)
    taken_ms = np.sort(committed_ns[both] - sent_ns[both]) / 1e6
    seconds_all = (committed_ns[both].max() - sent_ns[both].min()) / 1e9
    return {
        "wanted_rate": rate,
        "published_rate": sum(said["acknowledged"] for said in said_all) / took,
        "rate": float(both.sum() / seconds_all),
        "sent": int((sent_ns > 0).sum()),
        "committed": last["committed"],
        "p50_ms": float(taken_ms[math.ceil(0.5 * len(taken_ms)) - 1]),
        "p99_ms": float(taken_ms[math.ceil(0.99 * len(taken_ms)) - 1]),
        "resident_mb": memory,
        "processor_us": last["processor_s"] / max(1, last["committed"]) * 1e6,
    }


def backlog(bench: Bench, count: int) -> dict[str, Any]:
    """Let so many readings wait at the broker, then start the listener; return how long it takes."""
    base_ms = bench.base_ms(count)
    with bench.listener(1, base_ms):
        pass  # now the broker keeps messages for it
    with bench.publishers(count, base_ms, PATIENCE_S, None) as loggers:
        go(loggers)
        said = ended(loggers)
    published = sum(one["acknowledged"] for one in said)
    begun = time.monotonic_ns()
    with bench.listener(count, base_ms) as listener:
        memory = [listener.ask("look")["resident_mb"]]
        last = _until_all(listener, published)
        memory.append(last["resident_mb"])
    seconds = (last["last_ns"] - begun) / 1e9
    return {
        "published": published,
        "publishing_s": max(one["seconds"] for one in said),
        "committed": last["committed"],
        "seconds": seconds,
        "rate": last["committed"] / seconds,
        "resident_mb": memory,
    }
