"""What sensors cost as they become many: `python -m deploy.bench.growth [--sensors N ...] [--pouring PART] [--json]`.

The real stores, intake and rounds, at four readings an hour of each sensor, a message each, in scaled time: what comes
between two ticks is on every site what comes in a second of the largest one, so that a reading bears the same share of
ticks everywhere. Each size in a process of its own. Processor time, not time on the wall: others use the machine too.

A round judges one pour anew, and each reading of a bay with an open pour makes one; `--pouring` says how many bays have
one. Not in it: the broker and its library (`deploy.bench.ingest`), forecasts (`deploy.bench.foreseeing`), pages
(`deploy.bench.pages`).
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import asdict
from typing import Final

from deploy.bench.grown import A_BAY, Grown, grown
from deploy.cli_site import say

SENSORS: Final = (10, 100, 1_000, 10_000, 100_000)
POURING: Final = 0.02
READINGS: Final = 1_110
PER_S: Final = 100_000 * 4 / 3600.0
LIMIT_SHARE: Final = 0.5
LIMIT_RATIO: Final = 1.3
LIMIT_MB: Final = 100.0
SOAK_MB: Final = 10.0
"""More in the second half of a run is a leak: the readings of open pours, which are kept, are less."""


def measured(sensors: int, pouring: float, readings: int) -> Grown:
    """Return what one size costs, in a process of its own. Raises `RuntimeError`: it could not be measured."""
    told = [str(sensors), str(pouring), str(readings)]
    command = [sys.executable, "-m", "deploy.bench.growth", "--one", *told]
    done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=False)  # noqa: S603
    if done.returncode:
        raise RuntimeError(f"{sensors} sensors could not be measured; what was said stands above")
    found = json.loads(done.stdout)
    return Grown(**{**found, "resident_mb": tuple(found["resident_mb"])})


def judged(found: Sequence[Grown]) -> dict[str, bool]:
    """Return each limit that these sizes can be held against, with its figure, and whether it is kept."""
    by, met = {one.sensors: one for one in found}, dict[str, bool]()
    for one in found:
        grew = one.resident_mb[2] - one.resident_mb[1]
        met[f"{one.sensors} sensors: {grew:+.1f} MB in the second half, limit {SOAK_MB:g}"] = grew <= SOAK_MB
    if 100_000 in by:
        share = by[100_000].share(PER_S)
        met[f"100000 sensors: {share:.0%} of one core, limit {LIMIT_SHARE:.0%}"] = share <= LIMIT_SHARE
    if {1_000, 100_000} <= by.keys():
        ratio = by[100_000].reading_us / by[1_000].reading_us
        met[f"a reading at 100000 sensors {ratio:.2f} of that at 1000, limit {LIMIT_RATIO:g}"] = ratio <= LIMIT_RATIO
    if {10, 10_000} <= by.keys():
        more = by[10_000].resident_mb[2] - by[10].resident_mb[2]
        met[f"{more:.0f} MB more at 10000 sensors than at 10, limit {LIMIT_MB:g}"] = more <= LIMIT_MB
    return met


def pours_in(share: float, one: Grown) -> int:
    """Return how many pours could be open at the pace of 100 000 sensors, for this part of a core."""
    left_ms = share * 1e3 - one.intake_us * PER_S / 1e3
    # Each sends four times an hour of each of its sensors, and each time is judged.
    return max(0, int(left_ms / one.round_ms / (A_BAY * 4 / 3600.0)))


HEAD: Final = (
    f"{'sensors':>8} {'pours':>6} {'start s':>8} {'again s':>8} {'intake us':>10} {'alone us':>9} {'rounds us':>10} "
    f"{'reading us':>11} {'core at 111/s':>14} {'a round ms':>11} {'idle tick ms':>13} {'MB':>6} {'more':>6}"
)


def row(one: Grown) -> str:
    """Return the line of one size."""
    return (
        f"{one.sensors:>8} {one.pours:>6} {one.first_start_s:>8.1f} {one.start_s:>8.1f} {one.intake_us:>10.0f} "
        f"{one.alone_us:>9.0f} {one.rounds_us:>10.0f} {one.reading_us:>11.0f} {one.share(PER_S):>14.0%} "
        f"{one.round_ms:>11.1f} {one.idle_tick_ms:>13.2f} {one.resident_mb[2]:>6.0f} "
        f"{one.resident_mb[2] - one.resident_mb[1]:>+6.1f}"
    )


def main(arguments: list[str]) -> int:
    """Print a table; 1 when a limit is broken."""
    parser = argparse.ArgumentParser(prog="python -m deploy.bench.growth", description=__doc__)
    parser.add_argument("--sensors", type=int, nargs="+", default=list(SENSORS))
    parser.add_argument("--pouring", type=float, default=POURING, help="part of the bays that have an open pour")
    parser.add_argument("--readings", type=int, default=READINGS, help="that come while a site is measured")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--one", nargs=3, metavar=("SENSORS", "POURING", "READINGS"), help=argparse.SUPPRESS)
    options = parser.parse_args(arguments)
    if options.one:
        sensors, pouring, readings = options.one
        say(json.dumps(asdict(grown(int(sensors), float(pouring), int(readings)))))
        return 0
    if not options.json:
        say(HEAD)
    found = []
    for sensors in options.sensors:
        found.append(measured(sensors, options.pouring, options.readings))
        if not options.json:
            say(row(found[-1]))
            sys.stdout.flush()
    met = judged(found)
    if options.json:
        sizes = [asdict(one) | {"core_at_111_per_s": one.share(PER_S)} for one in found]
        say(json.dumps({"sizes": sizes, "limits": met}, indent=1))
    else:
        for limit, is_met in met.items():
            say(f"{'met' if is_met else 'NOT MET'}: {limit}")
        most = pours_in(LIMIT_SHARE, found[-1])
        say(f"computed: with {PER_S:.0f} readings/s, {most} pours may be open until half a core is used")
    return 0 if all(met.values()) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
