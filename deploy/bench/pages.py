"""Board and bay page as visitors get them, beside a running ingest: `python -m deploy.bench.pages [SECONDS]`.

The whole service with its loops on one core, over the embedded broker, on real stores. One bay has cured for 60 days
with 6 sensors at 5 min, and they go on; nine younger bays send ten packs a second together. Browsers in a process of
their own ask for 20 pages a second, the board and that bay in turn, once all that was there is judged and foreseen and
each page was asked for once: the first time it waits for templates and for sixty days of readings, and that is told.
"""

from __future__ import annotations

import json
import math
import os
import re
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

from cure.foresight import Foresight
from deploy.bench.children import Child
from deploy.bench.latency import Publisher, Stopwatch, free_port
from deploy.bench.sites import ZONES, bay_name, logger_name, site
from deploy.cli_site import say
from deploy.serve import Running, running
from shared.clock import SystemClock
from shared.models.acts import act_from, instant
from shared.models.base import DAY_MS, HOUR_MS, Ms, SensorId
from shared.models.readings import Reading
from shared.models.setup import Setup
from shared.sitefile import load
from shared.units import milli_c

BAYS: Final = 10
SENSORS: Final = 6
OLD_MS: Final = 60 * DAY_MS
YOUNG_MS: Final = DAY_MS
EVERY_MS: Final = 300_000
PER_S: Final = 20.0
SECONDS: Final = 60.0
PACKS_PER_S: Final = 10.0
LIMITS_MS: Final = {"/": 30.0, f"/bay/{bay_name(0)}": 100.0}
"""At the 95th percentile."""
MANY: Final = 20_000


def _setup(folder: Path, port: int) -> Setup:
    """Return a site whose bays have a sixth sensor, and whose loggers measure every 5 min."""
    setup = site(folder, BAYS, SENSORS - 1, port)
    path = Path(setup.folder, "site.toml")
    text = path.read_text(encoding="utf-8").replace("interval_s = 900", f"interval_s = {EVERY_MS // 1000}")
    last = re.compile(r'(\{ id = "lg-(\d+)-4\.1"[^}]*\})\]')
    text = last.sub(r'\1, { id = "lg-\2-5.1", zone = "interior", depth_mm = 75 }]', text)
    path.write_text(text, encoding="utf-8")
    return load(path)


def _celsius(k: int, at_ms: Ms, start_ms: Ms) -> float:
    """Return what a sensor reads: the heat of the first days, then days and nights. [degC]"""
    hours = (at_ms - start_ms) / HOUR_MS
    days = 2.0 * math.sin(hours * math.pi / 12.0 + k)
    return 14.0 - k + days + (0.0 if k == ZONES.index("air") else 12.0 * math.exp(-(((hours - 14.0) / 16.0) ** 2)))


def _prepare(parts: Running) -> None:
    service = parts.service
    now = service.clock.now()
    for n in range(BAYS):
        start = now - (OLD_MS if n == 0 else YOUNG_MS)
        end = start + HOUR_MS
        for act in (
            {"kind": "pour_start", "bay": bay_name(n), "pour": f"p-{n}", "happened": instant(start)},
            {"kind": "pour_end", "pour": f"p-{n}", "happened": instant(end)},
        ):
            service.apply(act_from({"at": instant(now), "who": "engineer", **act}))
        for k in range(SENSORS):
            sensor = SensorId(f"{logger_name(n, k)}.1")
            rows = [
                Reading(sensor, at, milli_c(round(_celsius(k, at, start), 2)), at + 1000)
                for at in range(start, now, EVERY_MS)
            ]
            for first in range(0, len(rows), MANY):
                service.intake.take_rows(rows[first : first + MANY])


def _settled(parts: Running) -> None:
    """Wait until no pour is due and of each it is known what is foreseen: that is made anew each hour, all of it at a
    start alone.
    """
    pause, book, now, foresight = threading.Event(), parts.service.book.board, parts.service.clock.now, _foreseen(parts)
    while any(row.state.next_due_ms <= now() or row.pour.id not in foresight.latest for row in book.board()):
        pause.wait(1.0)


def _foreseen(parts: Running) -> Foresight:
    if parts.service.foresight is None:
        raise RuntimeError("a site whose time runs as everybody's foresees")
    return parts.service.foresight


def _send(publisher: Publisher, stop: threading.Event, now: Callable[[], Ms]) -> None:
    """Let the old bay's sensors send each 5 min, and the others ten packs a second together."""
    n, pause, old_every = 0, 1.0 / PACKS_PER_S, round(PACKS_PER_S * EVERY_MS / 1000.0 / SENSORS)
    while not stop.wait(pause):
        bay = 0 if n % old_every == 0 else 1 + n % (BAYS - 1)
        k = (n // old_every if bay == 0 else n // (BAYS - 1)) % SENSORS
        publisher.send(bay, k, now(), 13.0)
        n += 1


def _told(path: str, found: list[tuple[str, float, int]]) -> bool:
    """Print one page's line; return whether it is within its limit."""
    taken = sorted(1000.0 * s for one, s, _ in found if one == path)
    size = max(b for one, _, b in found if one == path) / 1000.0
    p50, p95 = (taken[math.ceil(q * len(taken)) - 1] for q in (0.5, 0.95))
    limit = LIMITS_MS[path]
    say(f"{path:<10} {len(taken):>5} {p50:>8.1f} {p95:>8.1f} {taken[-1]:>8.1f}   {limit:>6.0f} {size:>8.1f}")
    return p95 <= limit


def measured(seconds: float) -> tuple[float, list[tuple[str, float, int]]]:
    """Return the part of a core that the service used, and of each page that was asked for path, time [s] and size."""
    cores = sorted(os.sched_getaffinity(0))
    with tempfile.TemporaryDirectory(prefix="slabhour-bench-") as name:
        setup = _setup(Path(name), free_port())
        # The service and its broker share one core; whoever asks sits elsewhere, if there is another.
        os.sched_setaffinity(0, cores[:1])
        with running(setup, SystemClock(), transport=Stopwatch(), demo=True) as parts:
            told = {"port": parts.web.address.port, "paths": list(LIMITS_MS), "per_s": PER_S, "seconds": seconds}
            browsers = Child("asking", told)
            first = Child("asking", told | {"per_s": 1.0, "seconds": float(len(LIMITS_MS))})
            for child in (browsers, first):
                child.sits_on(cores[1:] or cores)
            say(f"{BAYS} bays, {SENSORS} sensors each; {OLD_MS // DAY_MS} days of readings come in ...")
            _prepare(parts)
            _settled(parts)
            say("asked for the first time: " + ", ".join(f"{p} in {s:.2f} s" for p, s, _ in _found(first)))
            publisher, stop = Publisher(setup.site.broker.port), threading.Event()
            sending = threading.Thread(target=_send, args=(publisher, stop, parts.service.clock.now))
            sending.start()
            spent_s, since_s = time.process_time(), time.monotonic()
            try:
                found = _found(browsers)
                share = (time.process_time() - spent_s) / (time.monotonic() - since_s)
            finally:
                stop.set()
                sending.join()
                publisher.close()
                browsers.close()
                first.close()
    return share, found


def main(seconds: float = SECONDS) -> int:
    """Print a table; 1 when a limit is broken."""
    share, found = measured(seconds)
    say(f"the service used {share:.0%} of a core; where others use the rest, the times are theirs too")
    say(f"{'page':<10} {'n':>5} {'p50 ms':>8} {'p95 ms':>8} {'longest':>8}   {'limit':>6} {'KB':>8}")
    held = [_told(path, found) for path in LIMITS_MS]
    return 0 if all(held) else 1


def _found(browsers: Child) -> list[tuple[str, float, int]]:
    browsers.say("go")
    return [(path, s, b) for path, s, b in json.loads(browsers.heard())]


if __name__ == "__main__":
    sys.exit(main(float(sys.argv[1]) if len(sys.argv) > 1 else SECONDS))
