"""Commands without a module of their own. Each loads what it needs when it runs."""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict
from pathlib import Path

from deploy import logs
from deploy.cli_site import DONE, REFUSED, say, setup_of


def serve(args: argparse.Namespace) -> int:
    """Run everything in one process: broker, listener, rounds, messages."""
    from deploy.secret_files import secrets_of
    from deploy.serve import serve as served
    from shared.clock import SystemClock

    setup = setup_of(args)
    served(setup, SystemClock(), logs.begin(args.log, secrets_of(setup), say), args.elsewhere)
    return DONE


def demo(args: argparse.Namespace) -> int:
    """Run an invented site, sped up, and show its board and messages."""
    from deploy.demo.show import show

    show(rate=args.rate, folder=None if args.data is None else Path(args.data), say=say)
    return DONE


def check(args: argparse.Namespace) -> int:
    """Look at the site file, the stores, the broker, the channels and the clock."""
    from deploy.check import Checked
    from deploy.check import check as checked
    from shared.clock import SystemClock

    def tell(one: Checked) -> None:
        say(json.dumps(asdict(one)) if args.json else str(one))

    return DONE if checked(setup_of(args), SystemClock(), tell, fix=args.fix) else REFUSED


def status(args: argparse.Namespace) -> int:
    """Show the board."""
    from deploy.folders import data_folder
    from deploy.housekeeping import status_lines
    from deploy.restored import unaccepted
    from deploy.status import board_json, board_lines
    from deploy.weather_cli import weather_lines
    from shared.clock import SystemClock
    from shared.store import read_board

    setup, now = setup_of(args), SystemClock().now()
    air = weather_lines(setup, data_folder(setup), now)
    kept, doubtful = status_lines(setup, data_folder(setup), now), unaccepted(data_folder(setup))
    with read_board(setup, data_folder(setup)) as book:
        shown = {**board_json(book), "housekeeping": kept, "restored": doubtful, "weather": air}
        say(json.dumps(shown) if args.json else "\n".join([*doubtful, *board_lines(book, now), "", *air, *kept]))
    return DONE


def replay(args: argparse.Namespace) -> int:
    """Run recorded readings and acts through the same code; print every decision, hold and message."""
    from deploy import replay as replaying
    from deploy.replay_weather import read_issues
    from shared.sitefile import load

    setup = load(Path(args.site_file))
    acts = [] if args.acts is None else replaying.read_acts(Path(args.acts))
    until = None if args.until is None else round(args.until.timestamp() * 1000)
    readings = replaying.read_readings(Path(args.readings))
    weather = read_issues([Path(name) for name in args.weather or ()], setup.site)
    replaying.replay(setup, readings, acts, weather=weather, until_ms=until, tell=replaying.print_line)
    return DONE


def calibrate(args: argparse.Namespace) -> int:
    """Fit a strength curve to a laboratory's cylinders, judge it, and write calibration, plot and a page to sign."""
    # Its mathematics takes longer to load than any other command to run, also where only its help is wanted.
    from deploy.calibrating import calibrate as calibrated

    return calibrated(args)
