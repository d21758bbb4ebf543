"""The commands `slabhour backup` and `slabhour restore`."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Final

from deploy.backup import back_up, elsewhere, verified
from deploy.cli_site import DONE, add_site, say, setup_of
from deploy.restoring import restore
from shared.clock import SystemClock
from shared.shifts import site_hour

NEXT: Final = (
    "start the service: every gate is suspended until the engineer says `slabhour resume log --why ...`; what was "
    "released by then is withdrawn, because what was decided after the backup is not known. Readings that were "
    "acknowledged after it are missing: send or import them again"
)


class Progress:
    """One line on a terminal for each file, written over and over."""

    def __init__(self) -> None:
        self._shown = sys.stderr.isatty()

    def __call__(self, file: str, fraction: float) -> None:
        """Show how far a file is."""
        if self._shown:
            done = "#" * round(30 * fraction)
            sys.stderr.write(f"\r{file:<12} [{done:<30}] {fraction:4.0%}{chr(10) if fraction >= 1.0 else ''}")
            sys.stderr.flush()


def add_backup(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    parser.add_argument("folder", metavar="FOLDER", help="where backups are kept, on another disk if there is one")
    add_site(parser)


def add_restore(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    parser.add_argument("folder", metavar="FOLDER", help="a backup, or the folder of them: then the newest")
    parser.add_argument("--replace", action="store_true", help="put the stores that are there aside")
    add_site(parser)


def run_backup(args: argparse.Namespace) -> int:
    """Copy site book and readings, beside a running service too; the copy is verified before it counts."""
    setup = setup_of(args)
    path = back_up(setup, Path(args.folder), SystemClock().now(), Progress())
    about, missing = verified(path), elsewhere(setup)
    if args.json:
        size = sum(file["bytes"] for file in about.files.values())
        found = {"backup": str(path), "log_line": about.seq, "hash": about.hash, "files": list(about.files)}
        say(json.dumps({**found, "bytes": size, "not_in_it": missing}))
    else:
        say(f"{path}: {' and '.join(about.files)}, whole, to line {about.seq} of the log")
        if missing is not None:
            say(missing)
    return DONE


def run_restore(args: argparse.Namespace) -> int:
    """Put a backup in the place of the stores; every gate is suspended until a person accepts it with a reason."""
    setup, now = setup_of(args), SystemClock().now()
    done = restore(setup, Path(args.folder), now, replace=args.replace, told=Progress())
    missing = elsewhere(setup)
    if args.json:
        aside = None if done.aside is None else str(done.aside)
        found = {"backup": str(done.backup), "made_ms": done.backup_ms, "log_line": done.seq, "put_aside": aside}
        found["schema"] = done.schema
        say(json.dumps({**found, "not_in_it": missing}))
        return DONE
    made = site_hour(done.backup_ms, setup.site.site.zone)
    say(f"restored {done.backup}, made {made}, to line {done.seq} of the log")
    if done.aside is not None:
        say(f"what was there is in {done.aside}")
    if done.schema is not None:
        say(f'the book that was on the server is in its schema "{done.schema}"')
    if missing is not None:
        say(missing)
    say(NEXT)
    return DONE
