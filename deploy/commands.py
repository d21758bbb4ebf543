"""What `slabhour` can do: each command adds itself to the parser, and loads its parts when it does.

All of them take seconds to load, and one is wanted.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from typing import Final

from deploy import cli_runs as runs
from deploy import logs
from deploy.cli_site import add_site, aware


class Commands:
    """Takes commands into a parser."""

    def __init__(self, parser: argparse.ArgumentParser) -> None:
        self.below = parser.add_subparsers(required=True, metavar="COMMAND")

    def add(self, name: str, run: Callable[[argparse.Namespace], int]) -> argparse.ArgumentParser:
        """Return the parser of a command; what `run` says of itself is its help."""
        added = self.group(name, run.__doc__ or "")
        added.set_defaults(run=run)
        return added

    def group(self, name: str, says: str) -> argparse.ArgumentParser:
        """Return the parser of a command that has others below it."""
        added: argparse.ArgumentParser = self.below.add_parser(name, help=says, description=says)
        return added


Adder = Callable[[Commands], None]


def _rate(text: str) -> float:
    try:
        rate = float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no number") from None
    if not 1.0 <= rate <= 3600.0:
        raise argparse.ArgumentTypeError("between 1 and 3600 site seconds a second")
    return rate


def _add_demo(commands: Commands) -> None:
    demo = commands.add("demo", runs.demo)
    demo.add_argument("--rate", type=_rate, default=600.0, help="site seconds a second (default: 600)")
    demo.add_argument("--data", help="folder for what it records (default: a new temporary one)")


def _add_serve(commands: Commands) -> None:
    from deploy.workers import WORKERS

    serving = commands.add("serve", runs.serve)
    told = "leave a part to workers of its own; again for more"
    serving.add_argument("--elsewhere", action="append", default=[], choices=list(WORKERS), help=told)
    serving.add_argument("--log", choices=logs.KINDS, default="text", help="how it logs (default: text)")
    add_site(serving)


def _add_workers(commands: Commands) -> None:
    from deploy.workers import WORKERS, add_worker

    for name, run in WORKERS.items():
        add_worker(name, commands.add(name, run))


def _add_status(commands: Commands) -> None:
    add_site(commands.add("status", runs.status))


def _add_condition(commands: Commands) -> None:
    from deploy.condition_cli import add_condition, condition

    add_condition(commands.add("condition", condition))


def _add_plan(commands: Commands) -> None:
    from deploy.plan_cli import add_plan, plan

    add_plan(commands.add("plan", plan))


def _add_check(commands: Commands) -> None:
    checking = commands.add("check", runs.check)
    add_site(checking)
    checking.add_argument("--fix", action="store_true", help="make the bucket that the readings need, and its mapping")


def _add_replay(commands: Commands) -> None:
    replay = commands.add("replay", runs.replay)
    replay.add_argument("site_file", metavar="SITE.toml")
    columns = "columns sensor, taken_at, temperature_c[, received_at]"
    replay.add_argument("readings", metavar="READINGS.csv", help=columns)
    replay.add_argument("--acts", metavar="ACTS.jsonl", help="what people did, one JSON object a line")
    forecasts = "recorded forecasts, as [weather] reads them; may be repeated"
    replay.add_argument("--weather", action="append", metavar="FILE", help=forecasts)
    replay.add_argument("--until", type=aware, metavar="TIME", help="where to end (default: the last reading or act)")


def _add_calibrate(commands: Commands) -> None:
    from deploy.calibrate_cli import add_calibrate

    add_calibrate(commands.add("calibrate", runs.calibrate))


def _add_import(commands: Commands) -> None:
    from deploy.import_cli import add_import, run_import

    add_import(commands.add("import", run_import))


def _add_export(commands: Commands) -> None:
    from deploy.exporting import add_export, run_export

    add_export(commands.add("export", run_export))


def _add_init(commands: Commands) -> None:
    from deploy.init_cli import add_init, run_init

    add_init(commands.add("init", run_init))


def _add_backups(commands: Commands) -> None:
    from deploy.backup_cli import add_backup, add_restore, run_backup, run_restore

    add_backup(commands.add("backup", run_backup))
    add_restore(commands.add("restore", run_restore))


def _add_store(commands: Commands) -> None:
    from deploy.store_cli import SAYS, add_store

    add_store(commands.group("store", SAYS))


def _add_record(commands: Commands) -> None:
    from deploy.record_cli import add_record, record

    add_record(commands.add("record", record))


def _add_acts(commands: Commands) -> None:
    from deploy.cli_acts import OF_POUR, TOP, add_act

    pour = commands.group("pour", "say what happens to a pour").add_subparsers(required=True, metavar="WHAT")
    for below, table in ((pour, OF_POUR), (commands.below, TOP)):
        for name, act in table.items():
            add_act(below.add_parser(name, help=act.says, description=act.says), act)


def _add_loggers(commands: Commands) -> None:
    from deploy.logger_cli import LOGGERS, add_loggers

    add_loggers(commands.group("logger", LOGGERS))


def _add_labels(commands: Commands) -> None:
    from deploy.labels_cli import add_labels, run_labels

    add_labels(commands.add("labels", run_labels))


def _add_refused(commands: Commands) -> None:
    from deploy.refused_cli import add_refused

    add_refused(commands.group("refused", "list what was refused and why; screen it again after it was mended"))


def _add_tokens(commands: Commands) -> None:
    from deploy.token_cli import SAYS, add_tokens

    add_tokens(commands.group("token", SAYS))


def _add_messages(commands: Commands) -> None:
    from deploy.messages_cli import add_messages

    add_messages(commands.group("messages", "list messages and their deliveries; show one; send one once more"))


def _add_books(commands: Commands) -> None:
    from deploy import book_cli
    from deploy.shift_cli import shift

    for name, run in (("requirements", book_cli.requirements), ("ledger", book_cli.ledger), ("shift", shift)):
        add_site(commands.add(name, run))


def _add_verification(commands: Commands) -> None:
    from deploy.verification_cli import add_verification, orders, verification

    add_verification(commands.add("verification", verification))
    add_site(commands.add("break-orders", orders))


def _add_weather(commands: Commands) -> None:
    from deploy.weather_cli import add_weather, weather

    add_weather(commands.add("weather", weather))


def _add_forecast(commands: Commands) -> None:
    from deploy.forecast_cli import add_forecast

    add_forecast(commands.group("forecast", "what is expected of open pours, and how good forecasts were"))


def _add_log(commands: Commands) -> None:
    from deploy import book_cli

    log = commands.group("log", "check the site's log").add_subparsers(required=True, metavar="WHAT")
    verify = log.add_parser("verify", help=book_cli.verify.__doc__, description=book_cli.verify.__doc__)
    verify.add_argument("--anchors", metavar="FILE", help="anchors kept elsewhere (default: the site's own)")
    add_site(verify)
    verify.set_defaults(run=book_cli.verify)


_ADDERS: Final[Mapping[str, Adder]] = {
    "demo": _add_demo,
    "serve": _add_serve,
    "ingest": _add_workers,
    "cure": _add_workers,
    "alerts": _add_workers,
    "status": _add_status,
    "condition": _add_condition,
    "plan": _add_plan,
    "check": _add_check,
    "replay": _add_replay,
    "calibrate": _add_calibrate,
    "import": _add_import,
    "export": _add_export,
    "init": _add_init,
    "backup": _add_backups,
    "restore": _add_backups,
    "store": _add_store,
    "record": _add_record,
    "pour": _add_acts,
    "logger": _add_loggers,
    "labels": _add_labels,
    "refused": _add_refused,
    "token": _add_tokens,
    "messages": _add_messages,
    "requirements": _add_books,
    "ledger": _add_books,
    "shift": _add_books,
    "verification": _add_verification,
    "break-orders": _add_verification,
    "weather": _add_weather,
    "forecast": _add_forecast,
    "log": _add_log,
}
"""What adds each command; acts that stand beside `pour` are added by the same."""


def add_commands(parser: argparse.ArgumentParser, wanted: str) -> None:
    """Add one command, with those that are added by the same; all of them where there is none of that name."""
    commands, of_it = Commands(parser), _adder(wanted)
    for adder in dict.fromkeys(_ADDERS.values()) if of_it is None else (of_it,):
        adder(commands)


def _adder(wanted: str) -> Adder | None:
    if wanted in _ADDERS:
        return _ADDERS[wanted]
    from deploy.cli_acts import TOP

    return _add_acts if wanted in TOP else None
