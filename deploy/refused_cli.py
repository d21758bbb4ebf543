"""`slabhour refused`: what was refused and why; and screening it again, once what was wrong is mended."""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping
from typing import Any, Final

from deploy.cli_acts import carried_out
from deploy.cli_site import DONE, WRONG_USAGE, add_site, say, setup_of
from deploy.folders import data_folder
from deploy.importing import copies
from deploy.logger_keys import logger_keys
from deploy.refused_counts import refused_by_sensor
from ingest.again import screen_again, standing_words
from ingest.intake import Intake
from ingest.payloads.decoded import quoted
from shared.clock import SystemClock
from shared.models.base import SensorId
from shared.models.readings import Reading, Reason, Refusal
from shared.models.setup import Setup
from shared.shifts import site_hour
from shared.store import has_book, read_board

NEVER: Final = frozenset({Reason.CLOCK_FUTURE, Reason.TOO_BIG, Reason.NOT_FRESH})
"""What no mending makes good: an hour that lay ahead, a message that was not kept whole, one without an hour."""


def add_refused(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    below = parser.add_subparsers(required=True, metavar="WHAT")
    for name, run in (("list", _list), ("again", _again)):
        added = below.add_parser(name, help=run.__doc__, description=run.__doc__)
        added.add_argument("--sensor", help="of one sensor, like lg-01.1 (default: all)")
        add_site(added)
        added.set_defaults(run=run)
        if name == "again":
            added.add_argument("--dry-run", action="store_true", help="show what would be stored; store nothing")
            added.add_argument("--who", help="your id in the site file (not needed with --dry-run)")
            added.add_argument("--why", help="what was mended (not needed with --dry-run)")
        else:
            added.add_argument("--all", action="store_true", help="also those that were answered")


def _standing(setup: Setup, sensor: str | None) -> Mapping[str, Mapping[str, int]]:
    """Return how much stands refused, by sensor and reason."""
    with read_board(setup, data_folder(setup)) as book:
        found = refused_by_sensor(book.refusals(), book.board())
    return {name: reasons for name, reasons in found.items() if sensor in {None, name}}


def _json(one: Refusal) -> Mapping[str, Any]:
    r = one.refused
    return {
        "no": one.no,
        "received_ms": r.received_ms,
        "topic": r.topic,
        "reason": r.reason,
        "detail": r.detail,
        "sensor": r.sensor,
        "can_pass": r.reason not in NEVER,
        "decided_ms": one.decided_ms,
        "outcome": one.outcome,
    }


def _line(one: Refusal, zone: str) -> str:
    r = one.refused
    said = f"no. {one.no}  {site_hour(r.received_ms, zone)}  {r.sensor or quoted(r.topic)}  {r.reason}: {r.detail}"
    return said if one.decided_ms is None else f"{said}\n    {site_hour(one.decided_ms, zone)}: {one.outcome}"


def _refusals(setup: Setup, sensor: str | None) -> tuple[list[Refusal], str]:
    with read_board(setup, data_folder(setup)) as book:
        found, zone = book.refusals(), book.site().site.zone
    return [r for r in found if sensor is None or r.refused.sensor == sensor], zone


def _list(args: argparse.Namespace) -> int:
    """Show what was refused and why, counted by sensor and reason; it acts as readings that are missing."""
    setup = setup_of(args)
    refusals, zone = _refusals(setup, args.sensor)
    standing = _standing(setup, args.sensor)
    shown = [r for r in refusals if args.all or r.decided_ms is None]
    if args.json:
        say(json.dumps({"standing": standing, "refusals": [_json(r) for r in shown]}))
        return DONE
    for one in shown:
        say(_line(one, zone))
    for sensor, reasons in standing.items():
        say(f"{sensor or 'no sensor'}: {', '.join(f'{n} x {reason}' for reason, n in reasons.items())}")
    if not shown and not standing:
        say("nothing stands refused")
    return DONE


def _again(args: argparse.Namespace) -> int:
    """Screen what was refused again, after a placement, a map or a unit was mended; what passes comes late."""
    setup = setup_of(args)
    if args.dry_run:
        return _dry_run(setup, args)
    before, _ = _refusals(setup, args.sensor)
    stood = {r.no for r in before if r.decided_ms is None}
    fields = {"sensor": args.sensor, "why": args.why}
    if carried_out(setup, "screen_again", args.who, {k: v for k, v in fields.items() if v is not None}) is None:
        return WRONG_USAGE
    after, zone = _refusals(setup, args.sensor)
    answered = [r for r in after if r.no in stood and r.decided_ms is not None]
    left = len(stood) - len(answered)
    if args.json:
        say(json.dumps({"answered": [_json(r) for r in answered], "standing": left}))
        return DONE
    for one in answered:
        say(_line(one, zone))
    say(f"{len(answered)} refusals are answered, {left} stand")
    return DONE


def _reading(row: Reading) -> Mapping[str, Any]:
    return {"sensor": row.sensor, "taken_ms": row.taken_ms, "celsius": row.milli_c / 1000}


def _dry_run(setup: Setup, args: argparse.Namespace) -> int:
    clock = SystemClock()
    sensor = None if args.sensor is None else SensorId(args.sensor)
    if not has_book(setup, data_folder(setup)):
        say(json.dumps({"answered": [], "standing": 0}) if args.json else "nothing stands refused")
        return DONE
    with copies(setup, clock) as apart:
        site, keys = setup.site, logger_keys(setup)
        intake = Intake(site.site.site_id, apart.readings, apart.book, clock, topics=site.topic, keys=keys)
        found = screen_again(intake, apart.refused, clock.now(), sensor)
    zone = setup.site.site.zone
    if args.json:
        rows = [
            {**_json(a.refusal), "outcome": a.outcome, "would_store": [_reading(r) for r in a.stored]}
            for a in found
            if a.outcome
        ]
        say(json.dumps({"answered": rows, "standing": sum(not a.outcome for a in found)}))
        return DONE
    for one in found:
        if one.outcome:
            say(f"{_line(one.refusal, zone)}\n    would be: {one.outcome}")
            for row in one.stored:
                say(f"        {row.sensor}  {site_hour(row.taken_ms, zone)}  {row.milli_c / 1000:g} degC")
    say(f"dry run, nothing is stored: {standing_words(found)}")
    return DONE
