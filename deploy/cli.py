"""The command `slabhour`. Exit codes: 0 done, 1 refused, 2 wrong usage."""

from __future__ import annotations

import argparse
import json
import logging
import sys
from collections.abc import Callable, Sequence
from dataclasses import asdict
from importlib.metadata import version
from pathlib import Path

from deploy import book_cli, logs
from deploy import replay as replaying
from deploy.backup_cli import add_backup, add_restore, run_backup, run_restore
from deploy.calibrate_cli import add_calibrate
from deploy.check import Checked, check
from deploy.cli_acts import OF_POUR, TOP, add_act
from deploy.cli_site import DONE, REFUSED, add_site, aware, complain, say, setup_of
from deploy.condition_cli import add_condition, condition
from deploy.exporting import add_export, run_export
from deploy.forecast_cli import add_forecast
from deploy.housekeeping import status_lines
from deploy.import_cli import add_import, run_import
from deploy.init_cli import add_init, run_init
from deploy.labels_cli import add_labels, run_labels
from deploy.logger_cli import LOGGERS, add_loggers
from deploy.messages_cli import add_messages
from deploy.plan_cli import add_plan, plan
from deploy.record_cli import add_record, record
from deploy.refused_cli import add_refused
from deploy.replay_weather import read_issues
from deploy.restored import unaccepted
from deploy.secret_files import secrets_of
from deploy.serve import serve
from deploy.shift_cli import shift
from deploy.status import board_json, board_lines
from deploy.store_cli import SAYS as STORE_SAYS
from deploy.store_cli import add_store
from deploy.token_cli import SAYS, add_tokens
from deploy.verification_cli import add_verification, orders, verification
from deploy.weather_cli import add_weather, weather, weather_lines
from deploy.wiring import data_folder
from deploy.workers import WORKERS, add_worker
from shared.clock import SystemClock
from shared.errors import SlabError
from shared.sitefile import load
from shared.store import read_board


def _serve(args: argparse.Namespace) -> int:
    """Run everything in one process: broker, listener, rounds, messages."""
    setup = setup_of(args)
    serve(setup, SystemClock(), logs.begin(args.log, secrets_of(setup), say), args.elsewhere)
    return DONE


def _demo(args: argparse.Namespace) -> int:
    """Run an invented site, sped up, and show its board and messages."""
    from deploy.demo.show import show

    show(rate=args.rate, folder=None if args.data is None else Path(args.data), say=say)
    return DONE


def _check(args: argparse.Namespace) -> int:
    """Look at the site file, the stores, the broker, the channels and the clock."""

    def tell(one: Checked) -> None:
        say(json.dumps(asdict(one)) if args.json else str(one))

    return DONE if check(setup_of(args), SystemClock(), tell, fix=args.fix) else REFUSED


def _status(args: argparse.Namespace) -> int:
    """Show the board."""
    setup, now = setup_of(args), SystemClock().now()
    air = weather_lines(setup, data_folder(setup), now)
    kept, doubtful = status_lines(setup, data_folder(setup), now), unaccepted(data_folder(setup))
    with read_board(setup, data_folder(setup)) as book:
        shown = {**board_json(book), "housekeeping": kept, "restored": doubtful, "weather": air}
        say(json.dumps(shown) if args.json else "\n".join([*doubtful, *board_lines(book, now), "", *air, *kept]))
    return DONE


def _replay(args: argparse.Namespace) -> int:
    """Run recorded readings and acts through the same code; print every decision, hold and message."""
    setup = load(Path(args.site_file))
    acts = [] if args.acts is None else replaying.read_acts(Path(args.acts))
    until = None if args.until is None else round(args.until.timestamp() * 1000)
    readings = replaying.read_readings(Path(args.readings))
    weather = read_issues([Path(name) for name in args.weather or ()], setup.site)
    replaying.replay(setup, readings, acts, weather=weather, until_ms=until, tell=replaying.print_line)
    return DONE


def _calibrate(args: argparse.Namespace) -> int:
    """Fit a strength curve to a laboratory's cylinders, judge it, and write calibration, plot and a page to sign."""
    # Its mathematics takes longer to load than any other command to run.
    from deploy.calibrating import calibrate

    return calibrate(args)


def _rate(text: str) -> float:
    try:
        rate = float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no number") from None
    if not 1.0 <= rate <= 3600.0:
        raise argparse.ArgumentTypeError("between 1 and 3600 site seconds a second")
    return rate


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="slabhour", description="The hour young concrete has earned the next step.")
    parser.add_argument("--version", action="version", version=f"slabhour {version('slabhour')}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    def command(name: str, run: Callable[[argparse.Namespace], int]) -> argparse.ArgumentParser:
        added = commands.add_parser(name, help=run.__doc__, description=run.__doc__)
        added.set_defaults(run=run)
        return added

    demo = command("demo", _demo)
    demo.add_argument("--rate", type=_rate, default=600.0, help="site seconds a second (default: 600)")
    demo.add_argument("--data", help="folder for what it records (default: a new temporary one)")
    serving = command("serve", _serve)
    told = "leave a part to workers of its own; again for more"
    serving.add_argument("--elsewhere", action="append", default=[], choices=list(WORKERS), help=told)
    serving.add_argument("--log", choices=logs.KINDS, default="text", help="how it logs (default: text)")
    add_site(serving)
    for name, run in WORKERS.items():
        add_worker(name, command(name, run))
    add_site(command("status", _status))
    add_condition(command("condition", condition))
    add_plan(command("plan", plan))
    checking = command("check", _check)
    add_site(checking)
    checking.add_argument("--fix", action="store_true", help="make the bucket that the readings need, and its mapping")
    replay = command("replay", _replay)
    replay.add_argument("site_file", metavar="SITE.toml")
    replay.add_argument(
        "readings", metavar="READINGS.csv", help="columns sensor, taken_at, temperature_c[, received_at]"
    )
    replay.add_argument("--acts", metavar="ACTS.jsonl", help="what people did, one JSON object a line")
    replay.add_argument(
        "--weather",
        action="append",
        metavar="FILE",
        help="recorded forecasts, as [weather] reads them; may be repeated",
    )
    replay.add_argument("--until", type=aware, metavar="TIME", help="where to end (default: the last reading or act)")
    add_calibrate(command("calibrate", _calibrate))
    add_import(command("import", run_import))
    add_export(command("export", run_export))
    add_init(command("init", run_init))
    add_backup(command("backup", run_backup))
    add_restore(command("restore", run_restore))
    add_store(commands.add_parser("store", help=STORE_SAYS, description=STORE_SAYS))
    add_record(command("record", record))
    pour = commands.add_parser("pour", help="say what happens to a pour").add_subparsers(required=True, metavar="WHAT")
    for below, table in ((pour, OF_POUR), (commands, TOP)):
        for name, act in table.items():
            add_act(below.add_parser(name, help=act.says, description=act.says), act)
    add_loggers(commands.add_parser("logger", help=LOGGERS, description=LOGGERS))
    add_labels(command("labels", run_labels))
    refused = "list what was refused and why; screen it again after it was mended"
    add_refused(commands.add_parser("refused", help=refused, description=refused))
    add_tokens(commands.add_parser("token", help=SAYS, description=SAYS))
    messages = "list messages and their deliveries; show one; send one once more"
    add_messages(commands.add_parser("messages", help=messages, description=messages))
    for name, run in (("requirements", book_cli.requirements), ("ledger", book_cli.ledger), ("shift", shift)):
        add_site(command(name, run))
    add_verification(command("verification", verification))
    add_weather(command("weather", weather))
    foreseen = "what is expected of open pours, and how good forecasts were"
    add_forecast(commands.add_parser("forecast", help=foreseen, description=foreseen))
    add_site(command("break-orders", orders))
    log = commands.add_parser("log", help="check the site's log").add_subparsers(required=True, metavar="WHAT")
    verify = log.add_parser("verify", help=book_cli.verify.__doc__, description=book_cli.verify.__doc__)
    verify.add_argument("--anchors", metavar="FILE", help="anchors kept elsewhere (default: the site's own)")
    add_site(verify)
    verify.set_defaults(run=book_cli.verify)
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; every error of ours is a sentence, not a traceback."""
    logging.basicConfig(level=logging.WARNING, format=logs.TEXT_FORM, stream=sys.stderr)
    args = _parser().parse_args(arguments)
    try:
        return int(args.run(args))
    except SlabError as error:
        complain(str(error))
    except OSError as error:
        complain(f"{error.strerror}: {error.filename}")
    except KeyboardInterrupt:
        complain("stopped")
    return REFUSED


if __name__ == "__main__":
    sys.exit(main())
