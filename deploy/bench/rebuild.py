"""What a record costs, rebuilt and carried on: `python -m deploy.bench.rebuild [READINGS]`.

Prints ratios within one run: the product's sums over a whole record against a loop over the rows of a pandas frame
that adds up the same columns, against `np.exp` of as many numbers, and a round after one new reading on sixty
days of minutes against one on a single day.
"""

from __future__ import annotations

import json
import math
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

from alerts.transport import RecordingTransport
from cure.accumulate import (
    COLDEST_SDS,
    COLUMNS,
    ENERGY_SDS,
    HIGHEST_ENERGY_SDS,
    SENSOR_SD_C,
    TENTH_PERCENTILE,
    Carried,
    Law,
    advance,
)
from cure.maturity import FASTEST_CREDITED_C, GAS_CONSTANT, KELVIN, NO_CREDIT_AT_OR_BELOW_C, REFERENCE_C
from deploy.bench.sites import bay_name, site
from deploy.cli_site import say
from deploy.wiring import Service, build
from ingest.message import Incoming
from shared.clock import SimulatedClock
from shared.models.acts import PourEnd, PourStart, instant
from shared.models.base import HOUR_MS, MINUTE_MS, Ms, PourId, SensorId
from shared.models.readings import Reading, Series
from shared.models.setup import Setup

READINGS: Final = 1_000_000
TIMES: Final = 5
DAYS: Final = (1, 60)
A_DAY: Final = 24 * 60
LIMIT_RATIO: Final = 8.0
START_MS: Final[Ms] = 1_795_435_200_000


def best_s(work: Callable[[], object], times: int = TIMES) -> float:
    """Return the least seconds that a piece of work takes, of so many times."""
    taken = []
    for _ in range(times):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return min(taken)


def record(readings: int) -> Series:
    """Return a reading a minute of an invented slab: a slow warming and cooling, with a day's swing."""
    n = np.arange(readings, dtype=np.int64)
    celsius = 12.0 + 8.0 * np.sin(n / 700.0) + 3.0 * np.sin(2.0 * np.pi * n / A_DAY)
    return Series(START_MS + MINUTE_MS * (n + 1), np.round(celsius * 1000.0).astype(np.int64))


def _hours_an_hour(celsius: float, energy: float) -> float:
    credited = min(celsius, FASTEST_CREDITED_C)
    if credited <= NO_CREDIT_AT_OR_BELOW_C:
        return 0.0
    inverse = (1.0 / (credited + KELVIN) - 1.0 / (REFERENCE_C + KELVIN)) / GAS_CONSTANT
    two_branch = 33_500.0 + 1_470.0 * max(0.0, REFERENCE_C - credited)
    return min(math.exp(-energy * inverse), math.exp(-two_branch * inverse))


def loop_over_rows(frame: pd.DataFrame, law: Law) -> list[float]:
    """Return the sums, row by row, as a careful person without arrays would write it."""
    energy, off = law.activation_energy_j_per_mol, ENERGY_SDS * law.sd_j_per_mol
    sums, before = [0.0] * COLUMNS, None
    for row in frame.itertuples(index=False):
        if before is not None:
            hours = (row.taken_ms - before.taken_ms) / HOUR_MS
            mean = 0.5 * (row.celsius + before.celsius)
            sums[0] += _hours_an_hour(mean, energy) * hours
            sums[1] += _hours_an_hour(mean - TENTH_PERCENTILE * SENSOR_SD_C, energy) * hours
            sums[2] += _hours_an_hour(mean, energy - off) * hours
            sums[3] += _hours_an_hour(mean, energy + off) * hours
            sums[4] += max(0.0, mean) * hours
            sums[5] += _hours_an_hour(mean - COLDEST_SDS * SENSOR_SD_C, energy) * hours
            sums[6] += _hours_an_hour(mean, energy + HIGHEST_ENERGY_SDS * law.sd_j_per_mol) * hours
        before = row
    return sums


def rebuilt(readings: int) -> float:
    """Time whole records; return how many times quicker the product is than the loop."""
    law, series = Law.of(None), record(readings)
    start = Carried(START_MS, float(series.milli_c[0]) / 1000.0)
    frame = pd.DataFrame({"taken_ms": series.taken_ms, "celsius": series.milli_c / 1000.0})
    first = pd.DataFrame({"taken_ms": [START_MS], "celsius": [start.temperature_c]})
    frame = pd.concat([first, frame], ignore_index=True)

    def product() -> list[float]:
        return [float(x) for x in advance(start, series, law=law, interval_ms=MINUTE_MS).sums[-1]]

    if not np.allclose(product(), loop_over_rows(frame, law), rtol=1e-9, atol=0.0):
        raise AssertionError("the loop and the product do not add up to the same")
    ours, loop = best_s(product), best_s(lambda: loop_over_rows(frame, law), 1)
    numbers = series.milli_c / 1000.0
    exp = best_s(lambda: np.exp(numbers))
    say(f"a whole record of {readings} readings, {COLUMNS} sums")
    say(f"  {'the product':<34}{ours:>9.3f} s")
    say(f"  {'a loop over the rows of a frame':<34}{loop:>9.3f} s  {loop / ours:>7.1f} times as long")
    say(f"  {'np.exp of as many numbers':<34}{exp:>9.3f} s  the product takes {ours / exp:.1f} times as long")
    return loop / ours


def _pour(service: Service, setup: Setup, days: int) -> tuple[PourId, list[SensorId]]:
    """Enter a pour with so many days of minutes behind it."""
    pour, bay = PourId("p"), bay_name(0)
    start, end = instant(START_MS - HOUR_MS), instant(START_MS)
    service.apply(PourStart(at=start, who="super", bay=bay, pour=pour))
    service.apply(PourEnd(at=end, who="super", pour=pour))
    sensors = [s.sensor_id for s in setup.site.bay[0].sensors]
    whole = record(days * A_DAY)
    for sensor in sensors:
        rows = zip(whole.taken_ms.tolist(), whole.milli_c.tolist(), strict=True)
        service.readings.merge([Reading(sensor, taken, milli_c, taken) for taken, milli_c in rows])
    return pour, sensors


def round_s(days: int) -> float:
    """Return the least seconds of a round after one new reading of each sensor, so many days after the pour."""
    with tempfile.TemporaryDirectory(prefix="slabhour-bench-") as name:
        setup, clock = site(Path(name), 1, 3), SimulatedClock(START_MS)
        with build(setup, clock=clock, transport=RecordingTransport()) as service:
            pour, sensors = _pour(service, setup, days)
            clock.set(START_MS + days * A_DAY * MINUTE_MS)
            taken: list[float] = []
            for n in range(TIMES + 1):
                clock.set(clock.now() + MINUTE_MS)
                at = clock.now()
                for sensor in sensors:
                    logger = sensor.partition(".")[0]
                    payload = json.dumps([{"n": sensor, "u": "Cel", "t": at / 1000, "v": 12.0 + n / 10}]).encode()
                    service.intake.take([Incoming(f"slabhour/bench/r/{logger}", payload)])
                begun = time.perf_counter()
                service.rounds.run(pour)
                taken.append(time.perf_counter() - begun)
            return min(taken[1:])  # the first one reads the whole record


def main(arguments: Sequence[str]) -> int:
    """Print both tables; return 1 when the product is not 8 times as quick as the loop."""
    ratio = rebuilt(int(arguments[0]) if arguments else READINGS)
    say("a round after one new reading of each of 3 sensors, a reading a minute")
    seconds = {days: round_s(days) for days in DAYS}
    for days, taken in seconds.items():
        say(f"  {days:>3} days behind it {taken * 1000:>10.1f} ms")
    say(f"  ratio {seconds[DAYS[-1]] / seconds[DAYS[0]]:.1f}")
    return 0 if ratio >= LIMIT_RATIO else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
