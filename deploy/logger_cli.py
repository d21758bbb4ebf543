"""`slabhour logger`: where each sensor lies and how it does; placed, taken out, and tried by hand."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from contextlib import ExitStack, closing
from dataclasses import asdict
from threading import Event
from typing import Any, Final

from cure.first_reading import Check, Found, Warmth, checks, hand_warmth, line, verdict
from cure.loggers import LoggerRow, ago
from deploy.cli_acts import OF_LOGGER, add_act
from deploy.cli_site import DONE, REFUSED, add_site, complain, say, setup_of
from deploy.folders import data_folder
from deploy.init_cli import add_credentials, run_credentials
from deploy.loggers import Listed, listed, look, may_be_taken_for, newest_readings, spoken
from shared.clock import SystemClock
from shared.models.base import MINUTE_MS, Ms, SensorId
from shared.models.decisions import ByHand, Pour
from shared.models.setup import Setup
from shared.ports import BoardBook, Clock, Readings
from shared.shifts import site_hour
from shared.store import read_board, read_readings

LOGGERS: Final = "list loggers; place or remove a sensor; look at one that was just placed"
LOOK_EVERY_S: Final = 2.0
HAND_MINUTES: Final = 20
"""How long a sensor is held in the hand: a logger that measures each quarter of an hour must have measured since."""


def _minutes(text: str) -> int:
    try:
        minutes = int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number") from None
    if not 1 <= minutes <= 120:
        raise argparse.ArgumentTypeError("between 1 and 120 minutes")
    return minutes


def add_loggers(parser: argparse.ArgumentParser) -> None:
    """Give the command its parts."""
    below = parser.add_subparsers(required=True, metavar="WHAT")
    every = below.add_parser("list", help=_list.__doc__, description=_list.__doc__)
    add_site(every)
    every.set_defaults(run=_list)
    for name, act in OF_LOGGER.items():
        add_act(below.add_parser(name, help=act.says, description=act.says), act)
    given = below.add_parser("credentials", help=run_credentials.__doc__, description=run_credentials.__doc__)
    add_credentials(given)
    given.set_defaults(run=run_credentials)
    test = below.add_parser("test", help=_test.__doc__, description=_test.__doc__)
    test.add_argument("logger", help="a logger, such as lg-01, or one sensor of it, such as lg-01.1")
    test.add_argument("--watch", action="store_true", help="hold the sensor in your hand: wait until it feels it")
    test.add_argument(
        "--minutes", type=_minutes, default=HAND_MINUTES, help=f"how long to wait (default: {HAND_MINUTES})"
    )
    add_site(test)
    test.set_defaults(run=_test)


def _list(args: argparse.Namespace) -> int:
    """Show every placed sensor, and every one that sends and lies nowhere, with what to do."""
    setup, now = setup_of(args), SystemClock().now()
    with ExitStack() as stack:
        found = listed(setup.site, *_stores(setup, stack), now)
    say(json.dumps(_json(found)) if args.json else "\n".join(_lines(found, now, setup.site.site.zone)))
    return DONE


def _stores(setup: Setup, stack: ExitStack) -> tuple[BoardBook, Readings]:
    book = stack.enter_context(read_board(setup, data_folder(setup)))
    return book, stack.enter_context(closing(read_readings(setup, data_folder(setup))))


def _json(found: Listed) -> dict[str, Any]:
    every = found.refused.get("")
    return {
        "sensors": [
            {
                "sensor": row.name,
                "standing": row.standing,
                "placement": None if row.placement is None else asdict(row.placement),
                "heard_ms": row.heard_ms,
                "temperature_c": None if row.milli_c is None else row.milli_c / 1000,
                "battery_percent": row.battery_percent,
                "signal_db": row.signal_db,
                "to_do": row.to_do,
            }
            for row in found.rows
        ],
        "by_hand": [{"pour": pour.id, "bay": pour.bay, **asdict(one)} for pour, one in found.by_hand],
        "missing": [asdict(followed) for followed in found.missing],
        "refused_24h": {
            "messages": 0 if every is None else every.messages,
            "most_often": None if every is None else every.reason,
            "of": {name: asdict(tally) for name, tally in sorted(found.refused.items()) if name},
        },
    }


def _lines(found: Listed, now: Ms, zone: str) -> list[str]:
    lines = [text for row in found.rows for text in _row(row, now, zone)]
    lines += [_typed(pour, one, now) for pour, one in found.by_hand]
    lines += [f"gap in the numbers: {followed.explain()}" for followed in found.missing]
    every = found.refused.get("")
    if every is None:
        return [*lines, "no message was refused in 24 h"]
    of = sorted((t for t in found.refused.items() if t[0]), key=lambda t: (-t[1].messages, t[0]))
    lines.append(f"refused in 24 h: {every.messages}, most often: {every.reason}")
    return [*lines, *(f"  {name}: {tally.messages}, most often: {tally.reason}" for name, tally in of[:10])]


def _typed(pour: Pour, one: ByHand, now: Ms) -> str:
    zone = "no zone" if one.zone is None else one.zone.value
    under = "under insulation" if one.under_insulation else "not under insulation"
    value = f"{one.milli_c / 1000:.1f} degC"
    return f"by hand: bay {pour.bay}, {zone}, {one.position}: {value} {under}, {ago(now - one.taken_ms)} ago ({one.by})"


def _row(row: LoggerRow, now: Ms, zone: str) -> list[str]:
    said = [
        "never heard" if row.heard_ms is None else f"heard {ago(now - row.heard_ms)} ago",
        "" if row.milli_c is None else f"{row.milli_c / 1000:.1f} degC",
        "" if row.battery_percent is None else f"battery {row.battery_percent:.0f} %",
        "" if row.signal_db is None else f"signal {row.signal_db:.0f} dBm",
    ]
    lines = [f"{row.name:12}  {row.standing.upper()}  {', '.join(part for part in said if part)}"]
    p = row.placement
    if p is not None:
        since = "the beginning" if p.from_ms == 0 else site_hour(p.from_ms, zone)
        parts = [f"bay {p.bay}", p.zone.value, "" if p.depth_mm is None else f"{p.depth_mm} mm deep", p.position or ""]
        who = "the site file" if p.by is None else p.by
        lines.append(f"    {', '.join(part for part in parts if part)}, since {since} ({who})")
    return [*lines, f"    to do: {row.to_do}"]


def _test(args: argparse.Namespace) -> int:
    """Say in one line whether a sensor is alive, in the right bay and plausible; exit code 0 when it is."""
    setup, clock = setup_of(args), SystemClock()
    with ExitStack() as stack:
        book, readings = _stores(setup, stack)
        sensors = look(setup.site, book, clock.now()).sensors_of(args.logger)
        if not sensors:
            complain(f"nothing is known of {args.logger}: place it, or `slabhour logger list` shows what was heard")
            return REFUSED
        if args.watch and len(sensors) > 1:
            complain(f"{args.logger} has {', '.join(sensors)}: name the sensor that you hold")
            return REFUSED
        found = {sensor: _checked(setup, book, readings, clock, sensor) for sensor in sensors}
        _say_checks(found, as_json=args.json)
        good = all(verdict(one) is Found.OK for one in found.values())
        if args.watch:
            good = _watch(setup, (book, readings), clock, sensors[0], args) and good
    return DONE if good else REFUSED


def _checked(setup: Setup, book: BoardBook, readings: Readings, clock: Clock, sensor: SensorId) -> Sequence[Check]:
    now = clock.now()
    return checks(spoken(book, readings, look(setup.site, book, now), sensor), now)


def _say_checks(found: dict[SensorId, Sequence[Check]], *, as_json: bool) -> None:
    for sensor, one in found.items():
        body = {"sensor": sensor, "found": verdict(one), "checks": [asdict(check) for check in one]}
        say(json.dumps(body) if as_json else line(sensor, one))


def _watch(
    setup: Setup, stores: tuple[BoardBook, Readings], clock: Clock, sensor: SensorId, args: argparse.Namespace
) -> bool:
    """Look until the sensor has felt the hand, or the time is over; say each change."""
    began, wait_ms, told, pause = clock.now(), args.minutes * MINUTE_MS, "", Event()
    while True:
        warmth = _felt(setup, stores, sensor, (began, clock.now(), wait_ms))
        if warmth.text != told:
            body = {"sensor": sensor, "hand": warmth.found, "text": warmth.text}
            say(json.dumps(body) if args.json else warmth.text)
            told = warmth.text
        if warmth.found is not Found.NOT_YET:
            return warmth.found is Found.OK
        pause.wait(LOOK_EVERY_S)


def _felt(setup: Setup, stores: tuple[BoardBook, Readings], sensor: SensorId, span_ms: tuple[Ms, Ms, int]) -> Warmth:
    book, readings = stores
    began, now, wait_ms = span_ms
    found = look(setup.site, book, now)
    held = [sensor, *may_be_taken_for(found, sensor)]
    return hand_warmth(sensor, {s: newest_readings(readings, found, s) for s in held}, began, now, wait_ms)
