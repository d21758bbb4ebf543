"""A month of a site in one run: `python -m deploy.bench.month [--bays N] [--days N] [--json]`.

Bays are poured one after the other through the month. Each sensor reports every quarter of an hour from an hour before
its pour to the end of the month, as cast-in loggers do; those of a bay together, in a message each. A superintendent
and an engineer look each hour of the day, sign what is met and confirm what they were told. The real stores, intake,
rounds and dispatcher; the clock goes from quarter to quarter without waiting. Messages go to a transport that takes
every one.

Processor time, not time on the wall. A year is the month times twelve and a bit: computed, and said so. What it leaves
out: the broker, the pages, forecasts, and ticks in which nothing is due (`deploy.bench.ingest`, `.pages`,
`.foreseeing`, `.tick`).
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Final

from alerts.transport import RecordingTransport
from cure.lists import CONFIRMED_BY_PERSONS
from deploy.bench.listening import resident_mb
from deploy.bench.sites import ZONES, bay_name, logger_name, site
from deploy.cli_site import say
from deploy.wiring import Service, build
from ingest.message import Incoming
from shared.clock import SimulatedClock
from shared.errors import ActRefusedError
from shared.models.acts import act_from, instant
from shared.models.base import DAY_MS, HOUR_MS, LOAD, STRIP, WALK, Json, Ms, Operation
from shared.models.decisions import GateState
from shared.ports import Which

START_MS: Final[Ms] = 1_795_435_200_000
QUARTER_MS: Final[Ms] = HOUR_MS // 4
BAYS, DAYS = 100, 30
YEAR_DAYS: Final = 365.0
WORK_H: Final = range(11, 21)
"""Hours UTC in which people look: 7 to 17 on the site's clock."""
SIGNERS: Final[dict[Operation, str]] = {STRIP: "super", WALK: "super", LOAD: "engineer"}


@dataclass(slots=True)
class Month:
    """What it came to."""

    bays: int
    days: float
    readings: int = 0
    rounds: int = 0
    acts: int = 0
    released: int = 0
    """Operations that were signed."""
    messages: dict[str, int] = field(default_factory=dict)
    """By their kind."""
    sent: int = 0
    intake_s: float = 0.0
    rounds_s: float = 0.0
    sending_s: float = 0.0
    """Processor time of intake, rounds and dispatcher. [s]"""
    resident_mb: tuple[float, ...] = ()
    """At the begin, in the middle and at the end."""
    disk_mb: dict[str, float] = field(default_factory=dict)
    """By store, its log with it."""

    @property
    def processor_s(self) -> float:
        """All of it."""
        return self.intake_s + self.rounds_s + self.sending_s

    @property
    def core(self) -> float:
        """The part of one core that the site needs, all month long."""
        return self.processor_s / (self.days * DAY_MS / 1e3)


def _celsius(k: int, at_ms: Ms, start_ms: Ms) -> float:
    hours = (at_ms - start_ms) / HOUR_MS
    day = 3.0 * math.sin((at_ms % DAY_MS) / DAY_MS * math.tau)
    heat = 0.0 if ZONES[k] == "air" else 9.0 * math.exp(-(((hours - 14.0) / 16.0) ** 2))
    return 13.0 - 0.5 * k + (day if ZONES[k] == "air" else 0.4 * day) + heat


@dataclass(slots=True)
class _Site:
    """The site while it runs."""

    service: Service
    clock: SimulatedClock
    month: Month
    starts: list[Ms]
    told: list[int] = field(default_factory=list)
    """Messages that wait for somebody to confirm them, as they were an hour ago."""

    def act(self, who: str, **fields: Json) -> bool:
        """Hand in an act; return whether it was taken."""
        try:
            self.service.apply(act_from({"at": instant(self.clock.now()), "who": who, **fields}))
        except ActRefusedError:
            return False
        self.month.acts += 1
        return True

    def messages(self) -> list[Incoming]:
        """Return what the sensors say now."""
        now, found = self.clock.now(), list[Incoming]()
        for n, start in enumerate(self.starts):
            if now < start - HOUR_MS:
                continue
            for k in range(len(ZONES)):
                name = logger_name(n, k)
                said = {"n": f"{name}.1", "u": "Cel", "t": now / 1000.0, "v": round(_celsius(k, now, start), 2)}
                found.append(self.service.intake.incoming(f"slabhour/bench/r/{name}", json.dumps([said]).encode()))
        return found

    def pour(self) -> None:
        """Enter the pours that begin or end now."""
        now = self.clock.now()
        for n, start in enumerate(self.starts):
            if now == start:
                self.act("super", kind="pour_start", bay=bay_name(n), pour=f"p-{n}")
            elif now == start + 2 * HOUR_MS:
                self.act("super", kind="pour_end", pour=f"p-{n}")

    def look(self) -> None:
        """Sign what is met, begin it and be done with it; confirm what repeats until somebody does."""
        for row in self.service.book.board.board():
            for operation, who in SIGNERS.items():
                gate = row.gates.get(operation)
                if gate is None or gate.state is not GateState.MET:
                    continue
                if self.act(who, kind="sign", pour=row.pour.id, operations=[operation]):
                    self.month.released += 1
                    self.act("super", kind="under_way", pour=row.pour.id, operation=operation)
                    self.act("super", kind="done", pour=row.pour.id, operation=operation)
        # What has just been told is confirmed an hour later.
        for message in self.told:
            self.act("super", kind="confirm", message=message)
        waiting = self.service.book.board.waiting_messages(Which(), CONFIRMED_BY_PERSONS, (), len(self.starts))
        self.told = [message.no for message in waiting]

    def quarter(self) -> None:
        """Let a quarter of an hour pass."""
        month, service = self.month, self.service
        self.pour()
        begun = time.process_time()
        batch = self.messages()
        taken = service.intake.take(batch) if batch else ()
        month.readings += sum(len(one.rows) for one in taken)
        took = time.process_time()
        month.rounds += len(service.book.cure.due(self.clock.now(), len(self.starts)))
        service.tick()
        judged = time.process_time()
        service.dispatcher.run_due()
        month.intake_s += took - begun
        month.rounds_s += judged - took
        month.sending_s += time.process_time() - judged
        hour, rest = divmod(self.clock.now() % DAY_MS, HOUR_MS)
        if rest == 0 and hour in WORK_H:
            begun = time.process_time()
            self.look()
            month.rounds_s += time.process_time() - begun


def month_of(bays: int, days: float, told: Callable[[str], None]) -> Month:
    """Let a month pass.

    Args:
        bays: poured in it, each once.
        days: that it has; the last bay is poured two days before its end, or halfway through a shorter one.
        told: called with a line each day.
    """
    last = max(days - 2.0, days / 2.0)
    starts = [START_MS + round(last * n / bays * DAY_MS / QUARTER_MS) * QUARTER_MS for n in range(bays)]
    month, clock = Month(bays, days), SimulatedClock(START_MS - QUARTER_MS)
    with tempfile.TemporaryDirectory(prefix="slabhour-bench-") as name:
        setup = site(Path(name), bays, len(ZONES))
        with build(setup, clock=clock, transport=RecordingTransport()) as service:
            running, memory, quarters = _Site(service, clock, month, starts), [resident_mb()], round(days * 96)
            for n in range(quarters):
                clock.set(START_MS + n * QUARTER_MS)
                running.quarter()
                if n == quarters // 2:
                    memory.append(resident_mb())
                if n % 96 == 95:
                    done = f"{month.readings} readings, {month.rounds} rounds, {month.processor_s:.0f} s"
                    told(f"day {n // 96 + 1}: {done}")
            month.messages = dict(Counter(str(m.kind) for m in service.book.board.messages()))
            month.resident_mb = (*memory, resident_mb())
            month.sent = sum(d.was_accepted for d in service.book.board.deliveries())
            folder = service.folder
        month.disk_mb = {
            store: sum(file.stat().st_size for file in folder.glob(f"{store}.db*")) / 1e6
            for store in ("readings", "site")
        }
    return month


def lines(month: Month) -> list[str]:
    """Return the month as text, and the year that is reckoned from it."""
    memory = ", ".join(f"{mb:.0f}" for mb in month.resident_mb)
    disk = ", ".join(f"{name}.db {mb:.1f} MB" for name, mb in month.disk_mb.items())
    kinds = ", ".join(f"{count} {kind}" for kind, count in sorted(month.messages.items()))
    year = YEAR_DAYS / month.days
    came = f"{month.readings} readings, {month.rounds} rounds, {month.acts} acts, {month.released} operations released"
    parts = f"intake {month.intake_s:.0f}, rounds and acts {month.rounds_s:.0f}, sending {month.sending_s:.0f}"
    yearly = (
        f"{month.readings * year / 1e6:.1f} million readings, {month.processor_s * year / 3600.0:.1f} h of processor, "
        f"{sum(month.disk_mb.values()) * year / 1e3:.2f} GB, {sum(month.messages.values()) * year:.0f} messages"
    )
    return [
        f"{month.bays} bays in {month.days:g} days: {came}",
        f"messages: {kinds or 'none'}; {month.sent} deliveries",
        f"processor {month.processor_s:.0f} s: {parts}; {month.core:.2%} of one core all the time",
        f"memory at begin, middle, end {memory} MB; disk {disk}",
        f"a year of such months, computed (times {year:.1f}) and not run: {yearly}",
    ]


def _aside(line: str) -> None:
    sys.stderr.write(line + "\n")
    sys.stderr.flush()


def main(arguments: Sequence[str]) -> int:
    """Print what it came to; 1 when a bay's strip was never released."""
    parser = argparse.ArgumentParser(prog="python -m deploy.bench.month", description=__doc__)
    parser.add_argument("--bays", type=int, default=BAYS)
    parser.add_argument("--days", type=float, default=float(DAYS))
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args(arguments)
    month = month_of(options.bays, options.days, _aside)
    told = asdict(month) | {"core": month.core, "processor_s": month.processor_s}
    say(json.dumps(told, indent=1) if options.json else "\n".join(lines(month)))
    return 0 if month.released >= month.bays else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
