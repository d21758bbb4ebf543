"""`slabhour export`: readings, estimates, decisions and the ledger as tables, read beside a running service."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Final

from cure.ledger import HOURS, ledger
from cure.ledger import Row as LedgerRow
from cure.lost import Lost
from deploy.cli_site import DONE, WRONG_USAGE, aware, complain, say, setup_of
from deploy.folders import data_folder
from deploy.tables_out import Column, Row, write_table
from shared.models.acts import PourStart, ms
from shared.models.base import HOUR_MS, Ms
from shared.models.decisions import LogEntry, Placement
from shared.models.estimate import Estimate
from shared.ports import BoardBook, BoardRow, Readings
from shared.store import read_board, read_readings

FIRST_MS: Final[Ms] = 0
LAST_MS: Final[Ms] = 253_402_300_799_999
"""End of the year 9999."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be in the table. Empty: everything."""

    from_ms: Ms
    to_ms: Ms
    sensors: tuple[str, ...]
    bays: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A table to write."""

    columns: Sequence[Column]
    rows: Iterator[Row]


READINGS: Final = (
    Column("sensor", "text"),
    Column("taken_at", "time"),
    Column("temperature_c", "number"),
    Column("received_at", "time"),
    Column("temperature_milli_c", "whole"),
    Column("bay", "text"),
    Column("zone", "text"),
)
"""The first four are what `slabhour replay` reads; the thousandths are what is stored."""


def _spans(placements: Sequence[Placement], wanted: Wanted) -> Iterator[tuple[Placement, Ms, Ms]]:
    """Yield each wanted placement with the hours of it that are wanted, both ends included.

    A sensor's readings before its first placement, and after its last one, go with these.
    """
    of_sensor: dict[str, list[Placement]] = {}
    for placement in sorted(placements, key=lambda p: (p.sensor, p.from_ms)):
        of_sensor.setdefault(placement.sensor, []).append(placement)
    for sensor, placed in of_sensor.items():
        for number, placement in enumerate(placed):
            begin = FIRST_MS if number == 0 else placement.from_ms
            end = LAST_MS if number == len(placed) - 1 else placed[number + 1].from_ms - 1
            begin, end = max(begin, wanted.from_ms), min(end, wanted.to_ms)
            if begin <= end and _is(sensor, wanted.sensors) and _is(placement.bay, wanted.bays):
                yield placement, begin, end


def _is(name: str, names: tuple[str, ...]) -> bool:
    return not names or name in names


def readings_sheet(board: BoardBook, readings: Readings, wanted: Wanted) -> Sheet:
    """Return the readings, by sensor and time, with the bay in which each sensor was."""

    def rows() -> Iterator[Row]:
        for placement, begin, end in _spans(board.placements(), wanted):
            for one in readings.rows(placement.sensor, begin - 1, end):
                celsius = one.milli_c / 1000.0
                place = (placement.bay, placement.zone.value)
                yield one.sensor, one.taken_ms, celsius, one.received_ms, one.milli_c, *place

    return Sheet(READINGS, rows())


def _estimate(row: BoardRow, e: Estimate, limits: Sequence[str]) -> Row:
    counted = [e.counted_h.get(limit) for limit in limits]
    about = (row.pour.id, row.pour.bay, row.floor, row.pour.mix, row.state.as_of_ms, e.evidence_ms, e.age_h)
    strength = (e.equivalent_age_h, e.temperature_time_c_h, e.strength_mpa, e.lower_bound_mpa)
    return *about, e.coldest_c, e.governing_sensor, *strength, *counted


def estimates_sheet(board: BoardBook, _readings: Readings, wanted: Wanted) -> Sheet:
    """Return the newest estimate of each open pour: older ones are not kept, a replay makes them again."""
    found = [
        (row, row.state.estimate)
        for row in board.board()
        if row.state.estimate is not None
        and wanted.from_ms <= row.state.as_of_ms <= wanted.to_ms
        and _is(row.pour.bay, wanted.bays)
    ]
    limits = sorted({limit for _, estimate in found for limit in estimate.counted_h}, key=float)
    columns = [
        *(Column(name, "text") for name in ("pour", "bay", "floor", "mix")),
        *(Column(name, "time") for name in ("as_of", "evidence_to")),
        *(Column(name, "number") for name in ("age_h", "coldest_c")),
        Column("governing_sensor", "text"),
        *(Column(n, "number") for n in ("equivalent_age_h", "temperature_time_c_h", "strength_mpa", "lower_bound_mpa")),
        *(Column(f"counted_h_from_{limit}_c", "number") for limit in limits),
    ]
    return Sheet(columns, (_estimate(row, estimate, limits) for row, estimate in found))


DECISIONS: Final = (
    Column("log_line", "whole"),
    Column("at", "time"),
    Column("what", "text"),
    Column("bay", "text"),
    Column("pour", "text"),
    Column("operation", "text"),
    Column("from", "text"),
    Column("to", "text"),
    Column("epoch", "whole"),
    Column("who", "text"),
    Column("reason", "text"),
    Column("evidence_to", "time"),
    Column("findings", "text"),
)


def _decision(number: int, entry: LogEntry, bays: Mapping[str, str]) -> Row:
    body = entry.body
    about = (number, entry.at_ms, entry.what, bays.get(body["pour"], ""), body["pour"])
    if entry.what == "hold":
        return *about, "", "", f"{body['hold']} {body['event']}", None, entry.who, body["reason"], None, ""
    step = (body["operation"], body["from"], body["to"], body["epoch"], entry.who, body["reason"])
    return *about, *step, body.get("evidence_ms"), "; ".join(body.get("found", ()))


def decisions_sheet(board: BoardBook, _readings: Readings, wanted: Wanted) -> Sheet:
    """Return every step of a gate and every hold, as the site's log has them."""
    bays = {act.pour: act.bay for act in board.acts() if isinstance(act, PourStart)}
    entries = (
        (number, entry)
        for number, entry in board.log_after(0)
        if entry.what in {"gate", "hold"}
        and wanted.from_ms <= entry.at_ms <= wanted.to_ms
        and _is(bays.get(entry.body["pour"], ""), wanted.bays)
    )
    return Sheet(DECISIONS, (_decision(number, entry, bays) for number, entry in entries))


LEDGER: Final = (
    *(Column(name, "text") for name in ("floor", "bay", "pour", "operation")),
    *(Column(f"{name}_at", "time") for name in HOURS),
    *(Column(name, "number") for name in ("met_to_done_h", "lost_h")),
    *(Column(f"lost_to_{part.name.removesuffix('_ms')}_h", "number") for part in fields(Lost)),
)


def _hours(value_ms: int | None) -> float | None:
    return None if value_ms is None else value_ms / HOUR_MS


def ledger_sheet(board: BoardBook, _readings: Readings, wanted: Wanted) -> Sheet:
    """Return when each operation was wanted, met and done, and to what its hours were lost. It goes by the hour at
    which its requirement was met; what is not met yet is always there.
    """
    found = (
        row
        for row in ledger(board)
        if (row.met_ms is None or wanted.from_ms <= row.met_ms <= wanted.to_ms) and _is(row.bay, wanted.bays)
    )

    def cells(row: LedgerRow) -> Row:
        lost = (row.waited_ms, row.lost.whole_ms, *row.lost.parts)
        of = (row.floor or "", row.bay, row.pour, row.operation)
        return *of, *(getattr(row, f"{name}_ms") for name in HOURS), *map(_hours, lost)

    return Sheet(LEDGER, map(cells, found))


SHEETS: Final[Mapping[str, Callable[[BoardBook, Readings, Wanted], Sheet]]] = {
    "readings": readings_sheet,
    "estimates": estimates_sheet,
    "decisions": decisions_sheet,
    "ledger": ledger_sheet,
}


def add_export(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    parser.add_argument("site", metavar="SITE.toml", help="the site file")
    parser.add_argument("what", choices=list(SHEETS), help="which table")
    parser.add_argument("--out", required=True, metavar="FILE", help="a .csv; a .parquet or .xlsx with its extra")
    parser.add_argument("--from", dest="begin", type=aware, metavar="TIME", help="2026-11-24T08:40:00-04:00")
    parser.add_argument("--to", dest="end", type=aware, metavar="TIME", help="the last instant of it")
    parser.add_argument("--sensor", action="append", default=[], help="only this sensor (readings); again for more")
    parser.add_argument("--bay", action="append", default=[], help="only this bay; again for more")
    parser.add_argument("--data", default=None, help="another data folder than the site file's")
    parser.add_argument("--json", action="store_true", help="print JSON")


def run_export(args: argparse.Namespace) -> int:
    """Write readings, estimates, decisions or the ledger as a table for other software."""
    if args.sensor and args.what != "readings":
        complain("--sensor is for readings")
        return WRONG_USAGE
    setup, out = setup_of(args), Path(args.out)
    begin = FIRST_MS if args.begin is None else ms(args.begin)
    end = LAST_MS if args.end is None else ms(args.end)
    wanted = Wanted(begin, end, tuple(args.sensor), tuple(args.bay))
    data = data_folder(setup)
    with read_board(setup, data) as board, closing(read_readings(setup, data)) as readings:
        sheet = SHEETS[args.what](board, readings, wanted)
        number = write_table(out, sheet.columns, sheet.rows, setup.site.site.zone)
    say(json.dumps({"file": str(out), "rows": number}) if args.json else f"{number} {args.what}: {out}")
    return DONE
