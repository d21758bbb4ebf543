"""How much comes in, how fast: `python -m deploy.bench.ingest [--json] [--broker mosquitto|embedded]`.

On Mosquitto as we ship its configuration (without TLS) and on the embedded broker. Loggers publish at QoS 1 from
processes of their own, one reading a message; the listener, in a process of its own with both stores on disk,
acknowledges what is committed. Four runs a broker:

- bare: a subscriber that acknowledges at once and does nothing else, loggers as fast as they can: once by the MQTT
  library that the service uses, once by a bare socket, which no library reaches;
- full: the listener in its place;
- steady: so many readings a second for half a minute, each timed from publishing to its commit;
- backlog: so many readings wait at the broker when the listener starts.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from deploy.bench.brokers import BROKERS, Reached, syncs_a_second
from deploy.bench.children import PATIENCE_S, Child, ended, go
from deploy.bench.sites import ZONES, logger_name, site
from deploy.cli_site import say
from shared.clock import SystemClock

BAYS: Final = 20
PUBLISHERS: Final = 2
LIMIT_RATIO: Final = 0.3
LIMIT_RATE: Final = 1000.0
STUCK_S: Final = 30.0
"""No commit for so long: no more will come."""
FASTEST: Final = 50_000
"""Readings a second that no broker here reaches."""
NEARLY: Final = 0.98
"""Of the wanted rate: the last readings are committed after the last one was published."""
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
        took = json.loads(subscriber.heard())
        ended(loggers)
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


def measure(name: str, options: argparse.Namespace) -> dict[str, Any]:
    """Run everything on one broker."""
    with tempfile.TemporaryDirectory(prefix="slabhour-bench-") as place:
        folder = Path(place)
        site(folder, BAYS, len(ZONES))
        loggers = [logger_name(n, k) for n in range(BAYS) for k in range(len(ZONES))]
        with BROKERS[name](folder, loggers) as broker:
            bench = Bench(broker, folder, loggers, folder / "site.toml", SystemClock().now() - 60_000)
            found: dict[str, Any] = {
                "broker": name,
                "syncs_before": syncs_a_second(folder),
                "bare_rate": bare(bench, options.full_s, "client"),
                "socket_rate": bare(bench, options.full_s, "subscriber"),
            }
            found["full"] = full(bench, options.full_s)
            found["steady"] = steady(bench, options.seconds, options.rate)
            found["backlog"] = backlog(bench, options.backlog)
            found["syncs_after"] = syncs_a_second(folder)
    found["ratio"] = found["full"]["rate"] / found["bare_rate"]
    found["within"] = (
        found["ratio"] >= LIMIT_RATIO
        and found["steady"]["rate"] >= min(LIMIT_RATE, options.rate) * NEARLY
        and found["steady"]["committed"] == found["steady"]["sent"]
        and found["full"]["committed"] == found["full"]["sent"]
        and found["backlog"]["committed"] == found["backlog"]["published"]
    )
    return found


def _print(found: dict[str, Any]) -> None:
    steady_, waited, whole = found["steady"], found["backlog"], found["full"]
    memory = ", ".join(f"{mb:.0f}" for mb in steady_["resident_mb"])
    say(f"{found['broker']}: the disk syncs {found['syncs_before']:.0f}/s before, {found['syncs_after']:.0f}/s after")
    say(f"  bare subscriber {found['bare_rate']:.0f}/s, bare socket {found['socket_rate']:.0f}/s")
    say(f"  as fast as it goes: {whole['rate']:.0f}/s committed, {found['ratio']:.2f} of bare (limit {LIMIT_RATIO:g})")
    say(
        f"  steady: {steady_['rate']:.0f}/s of {steady_['wanted_rate']:.0f}/s wanted, {steady_['committed']} of "
        f"{steady_['sent']} committed; published -> committed p50 {steady_['p50_ms']:.1f} ms, p99 "
        f"{steady_['p99_ms']:.1f} ms; memory at begin, middle, end {memory} MB; {steady_['processor_us']:.0f} us each"
    )
    say(
        f"  backlog: {waited['committed']} of {waited['published']} in {waited['seconds']:.1f} s, "
        f"{waited['rate']:.0f}/s ({waited['resident_mb'][-1]:.0f} MB); published in {waited['publishing_s']:.1f} s"
    )
    say(f"  {'within' if found['within'] else 'NOT within'} the limits")


def main(arguments: list[str]) -> int:
    """Print what was found; 1 when a limit is broken or a reading is missing."""
    parser = argparse.ArgumentParser(prog="python -m deploy.bench.ingest", description=__doc__)
    parser.add_argument("--broker", choices=sorted(BROKERS), help="only this one")
    parser.add_argument("--rate", type=float, default=LIMIT_RATE, help="readings a second of the steady run")
    parser.add_argument("--seconds", type=float, default=30.0, help="of the steady run")
    parser.add_argument("--full-s", type=float, default=10.0, help="seconds of the two runs as fast as it goes")
    parser.add_argument("--backlog", type=int, default=100_000, help="readings that wait")
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args(arguments)
    found = [measure(name, options) for name in ([options.broker] if options.broker else BROKERS)]
    if options.json:
        say(json.dumps(found, indent=1))
    else:
        for one in found:
            _print(one)
    return 0 if all(one["within"] for one in found) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
