"""The command `slabhour`. Exit codes: 0 done, 1 refused, 2 wrong usage."""

from __future__ import annotations

import argparse
import json
import logging
import sys
from collections.abc import Callable, Sequence
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from alerts.transport import ChildTransport
from deploy import replay as replaying
from deploy.check import Checked, check
from deploy.control import hand_in
from deploy.serve import serve
from deploy.status import board_json, board_lines
from deploy.wiring import build, data_folder, with_data
from shared.clock import SystemClock
from shared.errors import LockedError, SlabError
from shared.models.acts import Act, act_from, act_to, instant
from shared.models.decisions import HoldKind
from shared.models.setup import Setup
from shared.sitefile import load
from shared.store import read_board

DONE, REFUSED, WRONG_USAGE = 0, 1, 2


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def _setup(args: argparse.Namespace) -> Setup:
    setup = load(Path(args.site))
    return setup if args.data is None else with_data(setup, Path(args.data))


def _serve(args: argparse.Namespace) -> int:
    """Run everything in one process: broker, listener, rounds, messages."""
    serve(_setup(args), SystemClock(), _say)
    return DONE


def _demo(args: argparse.Namespace) -> int:
    """Run an invented site, sped up, and show its board and messages."""
    from deploy.demo.show import show

    show(rate=args.rate, folder=None if args.data is None else Path(args.data), say=_say)
    return DONE


def _check(args: argparse.Namespace) -> int:
    """Look at the site file, the stores, the broker, the channels and the clock."""

    def say(one: Checked) -> None:
        _say(json.dumps(asdict(one)) if args.json else str(one))

    return DONE if check(_setup(args), SystemClock(), say) else REFUSED


def _status(args: argparse.Namespace) -> int:
    """Show the board."""
    with read_board(data_folder(_setup(args))) as book:
        _say(json.dumps(board_json(book)) if args.json else "\n".join(board_lines(book, SystemClock().now())))
    return DONE


def _replay(args: argparse.Namespace) -> int:
    """Run recorded readings and acts through the same code; print every decision, hold and message."""
    setup = load(Path(args.site_file))
    acts = [] if args.acts is None else replaying.read_acts(Path(args.acts))
    until = None if args.until is None else round(args.until.timestamp() * 1000)
    readings = replaying.read_readings(Path(args.readings))
    replaying.replay(setup, readings, acts, until_ms=until, tell=replaying.print_line)
    return DONE


def _apply(args: argparse.Namespace, act: Act) -> int:
    """Hand an act to the running service, or carry it out when there is none."""
    setup = _setup(args)
    try:
        clock = SystemClock()
        with build(setup, clock=clock, transport=ChildTransport(setup)) as service:
            service.apply(act)
    except LockedError:
        hand_in(data_folder(setup), act)
    _say(json.dumps({"done": act_to(act)}) if args.json else f"done: {act.kind.replace('_', ' ')} by {act.who}")
    return DONE


def _act(args: argparse.Namespace) -> int:
    now = instant(SystemClock().now())
    given = {name: getattr(args, name) for name in args.fields if getattr(args, name) is not None}
    try:
        act = act_from({"kind": args.kind, "at": now, "who": args.who, **given})
    except ValidationError as error:
        for fault in error.errors():
            sys.stderr.write(f"slabhour: {'.'.join(map(str, fault['loc'][1:]))}: {fault['msg']}\n")
        return WRONG_USAGE
    return _apply(args, act)


def _aware(text: str) -> datetime:
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no time like 2026-11-24T08:40:00-04:00") from None
    if at.tzinfo is None:
        raise argparse.ArgumentTypeError(f"{text!r} needs its offset, like 2026-11-24T08:40:00-04:00")
    return at


def _rate(text: str) -> float:
    try:
        rate = float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no number") from None
    if not 1.0 <= rate <= 3600.0:
        raise argparse.ArgumentTypeError("between 1 and 3600 site seconds a second")
    return rate


_ARGUMENTS: Final[dict[str, dict[str, Any]]] = {
    "bay": {"help": "bay of the site file"},
    "pour": {"help": "name of the pour; bay names are reused, pours are not"},
    "operation": {"help": "strip, walk or load"},
    "operations": {"nargs": "+", "help": "strip, walk, load"},
    "message": {"type": int, "help": "number of the message"},
    "hold": {"choices": [str(k) for k in HoldKind], "help": "which doubt"},
    "--happened": {"type": _aware, "metavar": "TIME", "help": "when, if it was earlier: 2026-11-24T08:40:00-04:00"},
    "--second-person": {"help": "who else says so: an end moved earlier needs one"},
    "--why": {"help": "the reason"},
    "--cause": {"required": True, "help": "why it was withdrawn"},
    "--surface-c": {"type": float, "help": "measured surface temperature, degC"},
    "--document": {"help": "the engineer's written disposition"},
}
_POUR_ACTS: Final[dict[str, tuple[str, str, tuple[str, ...]]]] = {
    "start": ("pour_start", "the first concrete is placed", ("bay", "pour", "--happened")),
    "end": (
        "pour_end",
        "the last concrete is placed; again with a later hour: it was later",
        ("pour", "--happened", "--second-person", "--why"),
    ),
    "begun": ("under_way", "the crew has begun", ("pour", "operation")),
    "done": ("done", "the operation is finished", ("pour", "operation")),
    "stop": ("stop", "shut every gate of the pour", ("pour", "--why")),
    "lift": ("lift", "lift a hold", ("pour", "hold", "--surface-c", "--document", "--why")),
    "reopen": ("reopen", "open a withdrawn gate again", ("pour", "operation", "--cause")),
    "forms-off": ("forms_off", "forms were found off without a release", ("pour",)),
}


def _add_act(parser: argparse.ArgumentParser, kind: str, arguments: Sequence[str]) -> None:
    for name in arguments:
        parser.add_argument(name, **_ARGUMENTS[name])
    parser.add_argument("--who", required=True, help="your id in the site file")
    _add_common(parser)
    parser.set_defaults(run=_act, kind=kind, fields=[n.lstrip("-").replace("-", "_") for n in arguments])


def _add_common(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--site", default="site.toml", help="the site file (default: site.toml)")
    parser.add_argument("--data", help="another data folder than the site file's")
    parser.add_argument("--json", action="store_true", help="print JSON")


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="slabhour", description="The hour young concrete has earned the next step.")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    def command(name: str, run: Callable[[argparse.Namespace], int]) -> argparse.ArgumentParser:
        added = commands.add_parser(name, help=run.__doc__, description=run.__doc__)
        added.set_defaults(run=run)
        return added

    demo = command("demo", _demo)
    demo.add_argument("--rate", type=_rate, default=600.0, help="site seconds a second (default: 600)")
    demo.add_argument("--data", help="folder for what it records (default: a new temporary one)")
    for name, run in (("serve", _serve), ("check", _check), ("status", _status)):
        _add_common(command(name, run))
    replay = command("replay", _replay)
    replay.add_argument("site_file", metavar="SITE.toml")
    replay.add_argument(
        "readings", metavar="READINGS.csv", help="columns sensor, taken_at, temperature_c[, received_at]"
    )
    replay.add_argument("--acts", metavar="ACTS.jsonl", help="what people did, one JSON object a line")
    replay.add_argument("--until", type=_aware, metavar="TIME", help="where to end (default: the last reading or act)")
    pour = commands.add_parser("pour", help="say what happens to a pour").add_subparsers(required=True, metavar="WHAT")
    for name, (kind, says, arguments) in _POUR_ACTS.items():
        _add_act(pour.add_parser(name, help=says, description=says), kind, arguments)
    _add_act(commands.add_parser("sign", help="sign met requirements of a pour"), "sign", ("pour", "operations"))
    _add_act(commands.add_parser("confirm", help='answer a message: "area clear"'), "confirm", ("message",))
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; every error of ours is a sentence, not a traceback."""
    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(name)s: %(message)s", stream=sys.stderr)
    args = _parser().parse_args(arguments)
    try:
        return int(args.run(args))
    except SlabError as error:
        sys.stderr.write(f"slabhour: {error}\n")
    except OSError as error:
        sys.stderr.write(f"slabhour: {error.strerror}: {error.filename}\n")
    except KeyboardInterrupt:
        sys.stderr.write("slabhour: stopped\n")
    return REFUSED


if __name__ == "__main__":
    sys.exit(main())
