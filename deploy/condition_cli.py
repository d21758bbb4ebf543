"""`slabhour condition`: the concrete beside strength, read beside a running service."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from cure.condition_report import BINDS, Told, as_json, lines, page, told
from cure.condition_seen import Given, air_from_ms, observed
from cure.rounds import checked_elapsed_ms
from cure.seen import LOOK_BEFORE_MS
from deploy.cli_site import DONE, WRONG_USAGE, add_site, complain, say, setup_of
from deploy.folders import data_folder
from deploy.status import CAUTION, CAUTION_LINE
from shared.clock import SystemClock
from shared.models.base import PourId
from shared.ports import BoardBook, Clock, Readings
from shared.store import read_board, read_readings


def _number(least: float, most: float, unit: str) -> Callable[[str], float]:
    def parsed(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            raise argparse.ArgumentTypeError(f"{text!r} is no number") from None
        # Written so that NaN is refused.
        if not least <= value <= most:
            raise argparse.ArgumentTypeError(f"{least:g} to {most:g}{unit}")
        return value

    return parsed


def add_condition(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    parser.add_argument(
        "of", nargs="*", metavar="SITE.toml|POUR", help="the site file, if not by --site; one pour (default: open ones)"
    )
    parser.add_argument("--out", metavar="FILE.html", help="write a page for the site diary, with a plot")
    parser.add_argument("--humidity", type=_number(0, 100, " %"), metavar="PERCENT", help="of the air, for evaporation")
    parser.add_argument(
        "--wind-m-s", type=_number(0, 60, " m/s"), metavar="M/S", help="wind 0.5 m above the surface, for evaporation"
    )
    parser.add_argument(
        "--delivered-c", type=_number(-10, 60, " degC"), metavar="DEGC", help="the concrete as delivered"
    )
    parser.add_argument(
        "--strength-ratio",
        type=_number(0, 1, ""),
        metavar="RATIO",
        help="mean strength at 2 days by that at 28 days, for curing (default: the slowest)",
    )
    add_site(parser)


def conditions(book: BoardBook, stored: Readings, clock: Clock, given: Given, pour: PourId | None = None) -> list[Told]:
    """Return the condition of one pour, or of each open one. Raises `StoreError` for an unknown pour."""
    acts, now_ms = book.acts(), clock.now()
    found = []
    for of in [row.pour.id for row in book.board()] if pour is None else [pour]:
        case = book.case(of)
        # The air of the days before the pour too: cold weather is told by whole days.
        after_ms = min(case.pour.start_ms - LOOK_BEFORE_MS, air_from_ms(case.pour, now_ms)) - 1
        series = {p.sensor: stored.between(p.sensor, after_ms, now_ms) for p in case.placements}
        seen = observed(case, series, acts, now_ms, elapsed_ms=checked_elapsed_ms(case, clock))
        found.append(told(seen, given))
    return found


def condition(args: argparse.Namespace) -> int:
    """Show the concrete beside strength: freezing, heat, drops, curing, drying, cold and hot weather, with sources."""
    files, pours = ([w for w in args.of if w.endswith(".toml") is is_file] for is_file in (True, False))
    if len(files) > 1 or len(pours) > 1:
        complain("one site file and one pour at most")
        return WRONG_USAGE
    # No pour has a dot in its name.
    args.site = files[0] if files else args.site
    setup, pour = setup_of(args), PourId(pours[0]) if pours else None
    given = Given(args.humidity, args.wind_m_s, args.delivered_c, args.strength_ratio)
    folder = data_folder(setup)
    with read_board(setup, folder) as book, closing(read_readings(setup, folder)) as stored:
        found, site = conditions(book, stored, SystemClock(), given, pour), book.site().site
    if args.out is not None:
        Path(args.out).write_text(page(site.name, found, CAUTION_LINE), encoding="utf-8")
    if args.json:
        say(
            json.dumps({"site": site.id, "pours": [as_json(t) for t in found], "binds": BINDS, "caution": CAUTION_LINE})
        )
        return DONE
    say("\n".join([site.name, *(line for t in found for line in lines(t)), *([] if found else ["no open pour"])]))
    told_by = ("--humidity", "--wind-m-s", "--delivered-c")
    untold = [name for name in told_by if getattr(args, name[2:].replace("-", "_")) is None]
    hint = [f"nobody told: say {', '.join(untold)}"] if untold and found else []
    say("\n".join([*hint, *([] if args.out is None else [f"written: {args.out}"]), "", BINDS, CAUTION]))
    return DONE
