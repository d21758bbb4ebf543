"""What the commands about a site share: which site file, which data folder, how to print."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime
from pathlib import Path
from typing import Final

from deploy.folders import with_data
from shared.errors import Fault, SetupError
from shared.models.setup import Setup
from shared.sitefile import load

DONE, REFUSED, WRONG_USAGE = 0, 1, 2
SITE_FILE: Final = "site.toml"


def say(text: str) -> None:
    """Print a line at once."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def complain(text: str) -> None:
    """Print a line where errors go."""
    sys.stderr.write(f"slabhour: {text}\n")


def add_site(parser: argparse.ArgumentParser, *, below: bool = False) -> None:
    """Add the options that every command about a site has; `below` one that has them already."""

    def given(default: object) -> object:
        # Else the lower command's default would replace what the upper one was given.
        return argparse.SUPPRESS if below else default

    parser.set_defaults(by_option=True)
    parser.add_argument("--site", default=given(SITE_FILE), help=f"the site file (default: {SITE_FILE})")
    parser.add_argument("--data", default=given(None), help="another data folder than the site file's")
    parser.add_argument("--json", action="store_true", default=given(False), help="print JSON")


def setup_of(args: argparse.Namespace) -> Setup:
    """Return the set-up that the command is about. Raises `SetupError`."""
    path = Path(args.site)
    if not path.exists():
        wanted = "an existing one, named by --site FILE" if "by_option" in args else "an existing one"
        raise SetupError([Fault(args.site, None, "site file", "no such file", f"{wanted}; `slabhour init` makes one")])
    setup = load(path)
    return setup if args.data is None else with_data(setup, Path(args.data))


def aware(text: str) -> datetime:
    """Return a time that says its offset."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no time like 2026-11-24T08:40:00-04:00") from None
    if at.tzinfo is None:
        raise argparse.ArgumentTypeError(f"{text!r} needs its offset, like 2026-11-24T08:40:00-04:00")
    return at
