"""Replay: the very same pipeline under a simulated clock, in the order in which things reached the site.

Two runs of one input give identical bytes; a replay of what a live service recorded gives that service's decisions.
"""

from __future__ import annotations

import csv
import json
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TextIO
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from alerts.transport import RecordingTransport
from alerts.wording import words
from cure.rounds import Foreseen
from deploy.answers import renumbered
from deploy.folders import in_files, with_data
from deploy.replay_weather import ForecastTeller, Issued, take, told_of_weather
from deploy.wiring import Service, build, site_skies
from ingest import files
from shared.clock import SimulatedClock
from shared.errors import ActRefusedError, Fault, SetupError
from shared.models.acts import Act, act_from, act_to, instant
from shared.models.base import MINUTE_MS, Ms
from shared.models.decisions import LogEntry
from shared.models.files import ColumnMap
from shared.models.readings import Reading
from shared.models.setup import Setup

TICK_MS: Final = MINUTE_MS
"""How long simulated time runs at most before the rounds look again."""
COLUMNS: Final = ("sensor", "taken_at", "temperature_c", "received_at")
RECORDED: Final = ColumnMap(sensor=COLUMNS[0], time=COLUMNS[1], value=COLUMNS[2], unit="degC")
CHUNK_ROWS: Final = 10_000


@dataclass(frozen=True, slots=True)
class Event:
    """Something that reached the site at an hour."""

    at_ms: Ms
    readings: tuple[Reading, ...] = ()
    act: Act | None = None
    weather: Issued | None = None


def read_readings(path: Path) -> list[Reading]:
    """Return the readings of a table with the columns sensor, taken_at, temperature_c and perhaps received_at.

    Raises:
        SetupError: every wrong line of the file.
    """
    faults, readings = [], []
    with files.open_table(path, RECORDED) as table:
        mapper = files.mapper(path, table, RECORDED, received=COLUMNS[3])
        for rows in table.chunks(CHUNK_ROWS):
            mapped = mapper.read(rows)
            faults += [Fault(str(path), one.line, "row", repr(one.text[:80]), one.detail) for one in mapped.wrong]
            readings += [
                Reading(
                    one.sensor, one.taken_ms, one.milli_c, one.taken_ms if one.received_ms is None else one.received_ms
                )
                for one in mapped.found
            ]
    if faults:
        raise SetupError(faults)
    return readings


def read_acts(path: Path) -> list[Act]:
    """Return the acts of a file with one JSON object a line.

    Raises:
        SetupError: every wrong line of the file.
    """
    faults, acts = [], []
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        if not line.strip():
            continue
        try:
            acts.append(act_from(json.loads(line)))
        except ValidationError as error:
            said = "; ".join(f"{'.'.join(map(str, e['loc']))}: {e['msg']}" for e in error.errors())
            faults.append(Fault(str(path), number, "act", repr(line[:80]), said))
        except ValueError as error:
            faults.append(Fault(str(path), number, "act", repr(line[:80]), str(error)))
    if faults:
        raise SetupError(faults)
    return acts


def write_readings(file: TextIO, readings: Sequence[Reading], zone: str) -> None:
    """Write readings as `read_readings` reads them, in the order in which they were received."""
    place = ZoneInfo(zone)
    table = csv.writer(file, lineterminator="\n")
    table.writerow(COLUMNS)
    for r in sorted(readings, key=lambda r: (r.received_ms, r.sensor, r.taken_ms)):
        taken, received = (instant(t, place).isoformat(timespec="milliseconds") for t in (r.taken_ms, r.received_ms))
        table.writerow((r.sensor, taken, f"{r.milli_c / 1000.0:.3f}", received))


def write_acts(file: TextIO, acts: Sequence[Act]) -> None:
    """Write acts as `read_acts` reads them."""
    file.writelines(json.dumps(act_to(act)) + "\n" for act in acts)


def events(readings: Sequence[Reading], acts: Sequence[Act], weather: Sequence[Issued] = ()) -> list[Event]:
    """Return what reached the site, in order: of one instant, readings before acts, and weather before both."""
    batches: dict[Ms, list[Reading]] = {}
    for r in readings:
        batches.setdefault(r.received_ms, []).append(r)
    arrived = [Event(at, readings=tuple(sorted(batch))) for at, batch in batches.items()]
    done = [Event(act.at_ms, act=act) for act in acts]
    foretold = [Event(one.at_ms, weather=one) for one in weather]
    return sorted(foretold + arrived + done, key=lambda e: (e.at_ms, e.act is not None))


def steps(todo: Sequence[Event], until_ms: Ms) -> Iterator[Event]:
    """Yield the events up to an hour, with empty ones between them so that no minute is skipped."""
    now = todo[0].at_ms if todo else until_ms
    for event in todo:
        if event.at_ms > until_ms:
            break
        while now + TICK_MS < event.at_ms:
            now += TICK_MS
            yield Event(now)
        now = event.at_ms
        yield event
    while now + TICK_MS <= until_ms:
        now += TICK_MS
        yield Event(now)


class Teller:
    """Turns the site's log into lines: decisions, holds, acts, and messages with their words."""

    def __init__(self, service: Service) -> None:
        self._service = service
        self._seq = 0
        self._zone = ZoneInfo(service.setup.site.site.zone)

    def news(self) -> list[dict[str, Any]]:
        """Return what was written since the last call."""
        lines = []
        for seq, entry in self._service.book.board.log_after(self._seq):
            self._seq = seq
            if entry.what != "delivery":
                lines.append(self._line(entry))
        return lines

    def _line(self, entry: LogEntry) -> dict[str, Any]:
        at = instant(entry.at_ms, self._zone)
        body = dict(entry.body)
        if entry.what == "message":
            message = next(m for m in self._service.book.board.messages() if m.no == body["no"])
            text = words(message, repeat=False)
            body |= {"title": text.subject, "short": text.short, "text": text.body}
        return {"at": at.isoformat(timespec="seconds"), "what": entry.what, "who": entry.who, **body}


def turn(service: Service, clock: SimulatedClock, event: Event) -> ActRefusedError | None:
    """Let one event reach the site and everything that is due be done; return why its act was refused, if it was."""
    clock.set(event.at_ms)
    if event.weather is not None:
        take(service, event.weather)
    if event.readings:
        service.intake.take_rows(event.readings)
    refused = None
    if event.act is not None:
        try:
            service.apply(renumbered(event.act, service.book.board.messages))
        except ActRefusedError as error:
            refused = error
    service.tick()
    service.dispatcher.run_due()
    return refused


def run(
    service: Service, clock: SimulatedClock, todo: Sequence[Event], until_ms: Ms, tell: Callable[[dict[str, Any]], None]
) -> None:
    """Drive the wired service through the events."""
    teller, foretold = Teller(service), ForecastTeller(service)
    for event in steps(todo, until_ms):
        refused = turn(service, clock, event)
        if event.act is not None and refused is not None:
            act = {"what": "refused act", "act": act_to(event.act), "why": str(refused)}
            tell({"at": event.act.at.isoformat(), **act})
        for line in (*teller.news(), *foretold.news()):
            tell(line)


def replay(
    setup: Setup,
    readings: Sequence[Reading],
    acts: Sequence[Act],
    *,
    weather: Sequence[Issued] = (),
    foreseen: Foreseen | None = None,
    until_ms: Ms | None = None,
    tell: Callable[[dict[str, Any]], None],
) -> None:
    """Run everything through a service on temporary stores; `tell` gets one line at a time.

    Args:
        setup: the site.
        readings: as they were received.
        acts: what people did.
        weather: forecasts as they were made; without one nothing is foreseen, and hours are expected by comparison.
        foreseen: tells the expected hours in place of any forecast.
        until_ms: where to end; None: with the last reading or act.
        tell: gets each line.
    """
    seen = events(readings, acts)
    if not seen:
        return
    todo = events(readings, acts, weather)
    clock = SimulatedClock(todo[0].at_ms)
    end = until_ms if until_ms is not None else seen[-1].at_ms
    with tempfile.TemporaryDirectory(prefix="slabhour-replay-") as folder:
        apart = in_files(with_data(told_of_weather(setup) if weather else setup, Path(folder)))
        skies = site_skies(apart) if weather else None
        with build(apart, clock=clock, transport=RecordingTransport(), skies=skies, foreseen=foreseen) as service:
            run(service, clock, todo, end, tell)


def print_line(line: dict[str, Any]) -> None:
    """Print one line of JSON, keys in order."""
    sys.stdout.write(json.dumps(line, ensure_ascii=False) + "\n")
