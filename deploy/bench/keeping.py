"""How long storing a reading takes while others copy, forget, tidy: `python -m deploy.bench.keeping [READINGS]`."""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from threading import Event, Thread
from typing import Final

from deploy.bench.sites import site
from deploy.cli_site import say
from shared.models.base import MINUTE_MS, SensorId
from shared.models.readings import Reading
from shared.ports import Readings
from shared.store import open_readings, sqlite_care

READINGS: Final = 2_000_000
OF_A_SENSOR: Final = 10_000
LIMIT_S: Final = 1.0
EVERY_S: Final = 0.005
_BESIDE: Final = SensorId("lg-beside.1")


def _filled(store: Readings, sensors: int) -> list[SensorId]:
    names = [SensorId(f"lg-{n}.1") for n in range(sensors)]
    for name in names:
        hours = (minute * MINUTE_MS for minute in range(OF_A_SENSOR))
        store.merge([Reading(name, at_ms, 20_000 + at_ms % 500, at_ms) for at_ms in hours])
    return names


def _beside(store: Readings, do: Callable[[], object], first: int) -> tuple[float, list[float]]:
    """Return the seconds that it took, and those of each reading that was stored meanwhile."""
    waits: list[float] = []
    over = Event()

    def write() -> None:
        while not over.is_set():
            begun = time.perf_counter()
            store.merge([Reading(_BESIDE, first + len(waits), 20_000, 0)])
            waits.append(time.perf_counter() - begun)
            over.wait(EVERY_S)

    writing = Thread(target=write)
    writing.start()
    begun = time.perf_counter()
    try:
        do()
    finally:
        took = time.perf_counter() - begun
        over.set()
        writing.join()
    return took, sorted(waits)


def main(arguments: list[str]) -> int:
    """Print a table."""
    number = int(arguments[0]) if arguments else READINGS
    with tempfile.TemporaryDirectory(prefix="slabhour-bench-") as name:
        folder = Path(name)
        file, to = folder / "readings.db", folder / "copy.db"
        with closing(open_readings(site(folder, 1, 1), folder)) as store:
            names = _filled(store, max(2, number // OF_A_SENSOR))
            half = names[: len(names) // 2]
            steps: list[tuple[str, Callable[[], object]]] = [
                ("copy", lambda: sqlite_care.copy(file, to)),
                ("check the copy", lambda: sqlite_care.damage(to)),
                ("tidy", store.tidy),
                ("forget half", lambda: [store.forget(sensor, 2**60) for sensor in half]),
                ("tidy again", store.tidy),
            ]
            say(f"{len(names) * OF_A_SENSOR} readings\n{'':<16} {'took':>9} {'stored':>7} {'median':>9} {'longest':>9}")
            longest = 0.0
            for turn, (what, do) in enumerate(steps):
                took, waits = _beside(store, do, turn * 1_000_000)
                longest = max(longest, waits[-1])
                middle = waits[len(waits) // 2]
                say(f"{what:<16} {took:8.2f}s {len(waits):7} {middle * 1000:7.1f}ms {waits[-1] * 1000:7.1f}ms")
    say(f"longest wait {longest:.2f} s, allowed {LIMIT_S:g} s")
    return 0 if longest <= LIMIT_S else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
