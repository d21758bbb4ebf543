"""Simulated days and site-weeks from the command line, one seed or many, and the pool that the tests use.

python tests/support/sim_run.py days --seed 17 [--days 3]      one run again, with everything that broke
python tests/support/sim_run.py days --seeds 1:201 --days 3    many
python tests/support/sim_run.py weeks --seeds 1:201            the table of site-weeks
"""

from __future__ import annotations

import argparse
import logging
import os
import shutil
import sys
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from multiprocessing import get_context
from pathlib import Path
from statistics import median, quantiles
from typing import Final

from oracle import Oracle
from sim_site import DAY_MS, START_MS, Run, Site
from world_radio import ROUGH, WEEK, Faults
from world_slab import HOUR_MS

_MEMORY: Final = Path("/dev/shm")  # noqa: S108 - a temporary folder of our own is made in it


@dataclass
class Came:
    """What came of one run."""

    seed: int
    broken: list[str]
    releases: int = 0
    unsafe: int = 0
    died: int = 0
    lost_h: list[float] = field(default_factory=list)
    """For each strip: hours from when perfect data would have met its requirement; infinite: never in the run."""
    to_superintendent_a_day: float = 0.0


def simulate(run: Run) -> tuple[Came, Oracle]:
    """Run a site on a folder of its own, in memory where there is one."""
    logging.disable(logging.CRITICAL)
    folder = Path(tempfile.mkdtemp(prefix="slabhour-sim-", dir=_MEMORY if _MEMORY.is_dir() else None))
    try:
        oracle = Oracle()
        site = Site(run, folder / "site", oracle)
        site.simulate()
        came = Came(run.seed, oracle.end(site), len(oracle.releases), sum(r.unsafe for r in oracle.releases))
        came.died = site.told.died
        came.to_superintendent_a_day = _to_super(site) / run.days
        site.close()
    finally:
        shutil.rmtree(folder)
        logging.disable(logging.NOTSET)
    return came, oracle


def _to_super(site: Site) -> int:
    return len({h.numbers for h in site.channels.ledger if h.recipient == "super" and h.arrived})


def day_run(seed: int, days: float = 3.0) -> Run:
    """Return the run of simulated days that a seed stands for."""
    plan = ("common-practice", "common-practice", "strict")[seed % 3]
    return Run(seed, days, ROUGH, sign_offs=1 + seed % 2, plan=plan)


def week_run(seed: int, faults: Faults = WEEK) -> Run:
    """Return the site-week that a seed stands for."""
    return Run(seed, 7.0, faults, pour_every_days=2.5)


def days(seed: int, length: float = 3.0) -> Came:
    """Simulate days; return what came of them."""
    return simulate(day_run(seed, length))[0]


def week(seed: int) -> Came:
    """Simulate a site-week, and the same week with perfect data; return what the difference cost."""
    perfect = Faults(gateway_ms=WEEK.gateway_ms, pack=WEEK.pack)
    came, found = simulate(week_run(seed))
    _, best = simulate(week_run(seed, perfect))
    came.lost_h = [
        (found.met_ms.get(key, 2**62) - hour) / HOUR_MS if key in found.met_ms else float("inf")
        for key, hour in best.met_ms.items()
        # One met in the week's last hours is left out: there is no time to see what its faults cost.
        if key[1] == "strip" and hour < START_MS + 6.5 * DAY_MS
    ]
    return came


def pool() -> ProcessPoolExecutor:
    """Return a pool on every core that gives way to whatever else runs."""
    return ProcessPoolExecutor(os.cpu_count(), get_context("spawn"), os.nice, (19,))


def many(of: str, seeds: Iterable[int], length: float) -> Iterator[Came]:
    """Yield what came of many seeds."""
    with pool() as workers:
        if of == "weeks":
            yield from workers.map(week, seeds)
        else:
            yield from workers.map(days, seeds, (length for _ in iter(int, 1)))


def table(found: Sequence[Came]) -> str:
    """Return site-weeks as a table."""
    lost = sorted(h for came in found for h in came.lost_h)
    late = f"{median(lost):.2f} h, p90 {quantiles(lost, n=10)[8] if len(lost) > 1 else lost[0]:.2f} h" if lost else "-"
    rows = (
        ("site-weeks", len(found)),
        ("releases", sum(c.releases for c in found)),
        ("unsafe releases", sum(c.unsafe for c in found)),
        ("strips that perfect data would have met", len(lost)),
        ("hours lost beyond that, median", late),
        ("never met within the week", sum(h == float("inf") for h in lost)),
        ("messages per superintendent and day, median", f"{median(c.to_superintendent_a_day for c in found):.1f}"),
    )
    return "\n".join(f"{name:<46}{value}" for name, value in rows)


def main(arguments: Sequence[str]) -> int:
    """Run what is asked for; return 1 when something broke."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("of", choices=("days", "weeks"))
    parser.add_argument("--seed", type=int)
    parser.add_argument("--seeds", default="1:21")
    parser.add_argument("--days", type=float, default=3.0)
    said = parser.parse_args(arguments)
    first, last = (int(n) for n in said.seeds.split(":"))
    seeds = range(first, last) if said.seed is None else [said.seed]
    found = []
    for came in many(said.of, seeds, said.days):
        found.append(came)
        show(f"seed {came.seed}: {came.releases} releases, {came.died} deaths, lost {came.lost_h}")
        show("\n".join(came.broken))
    show(table(found) if said.of == "weeks" else f"{len(found)} runs, {sum(bool(c.broken) for c in found)} broken")
    return int(any(c.broken for c in found))


def show(text: str) -> None:
    """Print a line, if there is one."""
    if text:
        sys.stdout.write(text + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
    raise SystemExit(main(sys.argv[1:]))
