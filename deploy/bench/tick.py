"""Seconds that a tick takes with many open pours and nothing new: `python -m deploy.bench.tick [POURS]`."""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path
from statistics import median
from typing import Final

from alerts.transport import RecordingTransport
from cure.rounds import POURS_A_ROUND
from deploy.bench.sites import bay_name, site
from deploy.cli_site import say
from deploy.wiring import Service, build
from shared.clock import SimulatedClock
from shared.models.acts import PourStart, act_to, instant
from shared.models.base import BayId, MixId, Ms, PourId
from shared.models.decisions import LogEntry, Pour

POURS: Final = 10_000
TICKS: Final = 50
START_MS: Final[Ms] = 1_795_435_200_000
LIMIT_S: Final = 0.2


def _open(service: Service, pours: int) -> None:
    for n in range(pours):
        act = PourStart(at=instant(START_MS), who="engineer", bay=bay_name(n), pour=f"p-{n}")
        pour = Pour(PourId(f"p-{n}"), BayId(bay_name(n)), MixId("c32-f"), START_MS)
        service.book.cure.open_pour(act, pour, LogEntry(START_MS, "engineer", "act", act_to(act)))


def measure(pours: int, ticks: int = TICKS) -> list[float]:
    """Return the seconds of each of so many ticks over so many open pours of which none has news."""
    with tempfile.TemporaryDirectory(prefix="slabhour-bench-") as name:
        setup = site(Path(name), pours, 1)
        clock = SimulatedClock(START_MS)
        with build(setup, clock=clock, transport=RecordingTransport()) as service:
            with service.book.writing():
                _open(service, pours)
            say(f"{pours} pours are open; the first round looks at each of them once ...")
            while service.rounds.run_due() >= POURS_A_ROUND:
                pass
            service.tick()  # writes the list of the morning
            taken = []
            for _ in range(ticks):
                clock.set(clock.now() + 1000)
                begun = time.perf_counter()
                service.tick()
                taken.append(time.perf_counter() - begun)
            return taken


def main(arguments: list[str]) -> int:
    """Print a table."""
    pours = int(arguments[0]) if arguments else POURS
    taken = sorted(measure(pours))
    say(f"\n{'open pours':>12} {'ticks':>6} {'median':>10} {'longest':>10}")
    say(f"{pours:>12} {len(taken):>6} {median(taken):>9.4f}s {taken[-1]:>9.4f}s")
    say("one tick: a look at the clock, the rounds, the site's lists; nothing has news; SQLite in a temporary folder")
    return 0 if median(taken) <= LIMIT_S else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
