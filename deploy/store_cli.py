"""The command `slabhour store copy`."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Final

from deploy.backup_cli import Progress
from deploy.cli_site import DONE, REFUSED, add_site, complain, say, setup_of
from deploy.moving import Moved, move
from shared.sitefile import load

SAYS: Final = "copy a stopped site to other stores, from files to servers or back"
STOPPED: Final = "stopped; nothing at the source was changed, and the same command goes on from here"


def add_store(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    below = parser.add_subparsers(required=True, metavar="WHAT")
    copy = below.add_parser("copy", help=run_copy.__doc__, description=run_copy.__doc__)
    copy.add_argument(
        "--to", required=True, metavar="NEW.toml", help="a site file of the same site that names other [stores]"
    )
    add_site(copy)
    copy.set_defaults(run=run_copy)


def run_copy(args: argparse.Namespace) -> int:
    """Copy site book, readings and files to where another site file keeps them, and read all of it again there."""
    setup, to = setup_of(args), load(Path(args.to))
    try:
        moved = move(setup, to, Progress())
    except KeyboardInterrupt:
        complain(STOPPED)
        return REFUSED
    then = what_next(Path(args.site), Path(args.to))
    if args.json:
        say(json.dumps({**asdict(moved), "next": then}))
    else:
        say("\n".join([*_lines(moved), then]))
    return DONE


def _lines(moved: Moved) -> Iterator[str]:
    if moved.tables is None:
        yield "the site book stays where it is"
    else:
        rows = sum(table.rows for table in moved.tables)
        yield f"the site book is there: {len(moved.tables)} tables, {rows} rows, read again and the same"
    if moved.sensors is None:
        yield "the readings stay where they are"
    else:
        rows, new = sum(one.rows for one in moved.sensors), sum(one.copied for one in moved.sensors)
        yield f"the readings are there: {len(moved.sensors)} sensors, {rows} readings, {new} of them new, and the same"
    if moved.files is not None:
        yield f"{moved.files} files of the data folder were copied"
    yield f"the log is whole there: {moved.lines} lines. Nothing at the source was changed"


def what_next(old: Path, new: Path) -> str:
    """Return what to do after a copy."""
    if old.resolve().parent == new.resolve().parent:
        return (
            f"next: put {new.name} in the place of {old.name}, then start slabhour serve. What is at the source must "
            "not be served any more: keep it until a backup of the new stores is made, then take it away"
        )
    # Paths in a site file count from its folder.
    return (
        f"next: start slabhour serve --site {new}, and {old} no more. What is at the source must not be served any "
        "more: keep it until a backup of the new stores is made, then take it away"
    )
