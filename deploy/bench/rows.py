"""The benchmarks of the one table: what each is asked, shortly or in full, and the rows that it comes to."""

from __future__ import annotations

import argparse
import math
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import Any, Final

from alerts.transport import RecordingTransport
from deploy.bench import foreseeing, growth, ingest, pages, rebuild, tick
from deploy.bench.brokers import BROKERS
from deploy.bench.listening import resident_mb
from deploy.bench.sites import ZONES, logger_name, site
from deploy.wiring import build
from shared.clock import SimulatedClock
from shared.models.base import MINUTE_MS, SensorId
from shared.models.readings import Reading

MILLION: Final = 1_000_000
PIECE: Final = 10_000


@dataclass(frozen=True, slots=True)
class Row:
    """One figure."""

    what: str
    found: float
    unit: str
    limit: float | None = None
    """None: it has none, and is only told."""
    at_least: bool = False
    """Which side of the limit is the good one."""

    @property
    def met(self) -> bool:
        """Whether the limit is kept; NaN keeps none."""
        if self.limit is None:
            return True
        return self.found >= self.limit if self.at_least else self.found <= self.limit


def of_ingest(found: Mapping[str, Any]) -> list[Row]:
    """Return the rows of what `ingest.measure` found of one broker; a run that failed keeps its limit unkept."""
    name, rows = found["broker"], list[Row]()
    if "bare" in found:
        rows.append(Row(f"{name}: a subscriber that does nothing", found["bare"], "/s"))
    if "full" in found:
        rows.append(Row(f"{name}: sustained, as fast as it goes", found["full"]["rate"], "/s"))
    if "ratio" in found:
        rows.append(Row(f"{name}: of that subscriber", found["ratio"], "part", ingest.LIMIT_RATIO, at_least=True))
    if (steady := found.get("steady")) is not None:
        wanted = min(ingest.LIMIT_RATE, steady["wanted_rate"]) * ingest.NEARLY
        rows.append(Row(f"{name}: steady", steady["rate"], "/s", wanted, at_least=True))
        rows.append(Row(f"{name}: published -> committed p50", steady["p50_ms"], "ms"))
        rows.append(Row(f"{name}: published -> committed p99", steady["p99_ms"], "ms"))
        rows.append(Row(f"{name}: processor, a reading", steady["processor_us"], "us"))
        rows.append(Row(f"{name}: steady, lost", steady["sent"] - steady["committed"], "readings", 0.0))
    if (waited := found.get("backlog")) is not None:
        rows.append(Row(f"{name}: {waited['published']} that waited are in after", waited["seconds"], "s"))
        rows.append(Row(f"{name}: of a backlog, lost", waited["published"] - waited["committed"], "readings", 0.0))
    rows += [Row(f"{name}: {run} FAILED: {why}", math.nan, "", 0.0) for run, why in found["failed"].items()]
    return rows


def ingested(short: bool) -> list[Row]:
    """Measure what comes in, on Mosquitto and on the embedded broker."""
    asked = {"only": ["bare", "full", "steady", "backlog"], "rate": 200.0, "seconds": 5.0, "full_s": 3.0}
    asked |= {"backlog": 2_000} if short else {"rate": ingest.LIMIT_RATE, "seconds": 30.0, "full_s": 10.0}
    options = argparse.Namespace(**({"backlog": 100_000} | asked))
    return [row for name in BROKERS for row in of_ingest(ingest.measure(name, options, _aside))]


def recomputed(short: bool) -> list[Row]:
    """Measure the sums over a whole record, and a round of a pour that has a record behind it."""
    ratio = rebuild.rebuilt(100_000 if short else MILLION)
    rows = [Row("recompute: a loop over rows takes as long", ratio, "times", rebuild.LIMIT_RATIO, at_least=True)]
    days = rebuild.DAYS[:1] if short else rebuild.DAYS
    return rows + [Row(f"a round with {n} days of minutes behind it", rebuild.round_s(n) * 1e3, "ms") for n in days]


def ticked(short: bool) -> list[Row]:
    """Measure a tick that finds nothing to do."""
    pours = 200 if short else tick.POURS
    taken = tick.measure(pours)
    what = f"a tick with {pours} open pours, nothing new"
    return [
        Row(f"{what}: median", median(taken) * 1e3, "ms", tick.LIMIT_S * 1e3),
        Row("longest", max(taken) * 1e3, "ms"),
    ]


def foreseen(short: bool) -> list[Row]:
    """Measure a forecast."""
    pours = 2 if short else 10
    return [Row(f"a forecast, of {pours} at once: processor, a pour", foreseeing.cost(pours).each_s, "s")]


def shown(short: bool) -> list[Row]:
    """Measure board and bay page beside readings that come in."""
    share, found = pages.measured(10.0 if short else pages.SECONDS)
    rows = [Row("the service, asked for pages: part of a core", share, "part")]
    for path, limit in pages.LIMITS_MS.items():
        taken = sorted(1e3 * s for one, s, _ in found if one == path)
        rows.append(Row(f"page {path}: p50", taken[math.ceil(0.5 * len(taken)) - 1], "ms"))
        rows.append(Row(f"page {path}: p95", taken[math.ceil(0.95 * len(taken)) - 1], "ms", limit))
    return rows


def stored(short: bool) -> list[Row]:
    """Measure what a million readings take of processor, memory and disk."""
    readings, bays = (MILLION // 20 if short else MILLION), 20
    sensors = [SensorId(f"{logger_name(n, k)}.1") for n in range(bays) for k in range(len(ZONES))]
    with tempfile.TemporaryDirectory(prefix="slabhour-bench-") as name:
        setup = site(Path(name), bays, len(ZONES))
        clock = SimulatedClock(1_795_435_200_000)
        with build(setup, clock=clock, transport=RecordingTransport()) as service:
            before_mb, begun = resident_mb(), time.process_time()
            for first in range(0, readings, PIECE):
                some = [divmod(n, len(sensors)) for n in range(first, first + PIECE)]
                at = [clock.now() - MINUTE_MS * (readings // len(sensors) - minute) for minute, _ in some]
                rows = [
                    Reading(sensors[k], ms, 15_000 + minute % 500, ms + 1000)
                    for ms, (minute, k) in zip(at, some, strict=True)
                ]
                service.intake.take_rows(rows)
            spent_s, more_mb, folder = time.process_time() - begun, resident_mb() - before_mb, service.folder
        disk_mb = sum(f.stat().st_size for f in folder.rglob("*") if f.is_file()) / 1e6
    part = readings / MILLION
    return [
        Row("a million readings: processor", spent_s / part, "s"),
        Row("a million readings: disk", disk_mb / part, "MB"),
        Row(f"memory, after {readings} readings more", more_mb, "MB", growth.LIMIT_MB),
    ]


def grew(short: bool) -> list[Row]:
    """Measure what sensors cost as they become many."""
    sizes = (10, 1_000) if short else growth.SENSORS
    found = [growth.measured(n, growth.POURING, 222 if short else growth.READINGS) for n in sizes]
    rows = [Row(f"{one.sensors} sensors: processor, a reading", one.reading_us, "us") for one in found]
    for one in found[-1:]:
        what = f"{one.sensors} sensors, {growth.PER_S:.0f} readings/s"
        rows.append(Row(what, one.share(growth.PER_S), "part of a core", growth.LIMIT_SHARE))
    rows += [Row(said, float(met), "kept", 1.0, at_least=True) for said, met in growth.judged(found).items()]
    return rows


BENCHMARKS: Final[Mapping[str, Callable[[bool], list[Row]]]] = {
    "ingest": ingested,
    "recompute": recomputed,
    "tick": ticked,
    "forecast": foreseen,
    "pages": shown,
    "storage": stored,
    "growth": grew,
}


def _aside(line: str) -> None:
    sys.stderr.write(line + "\n")
    sys.stderr.flush()
