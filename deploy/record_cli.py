"""`slabhour record`: the printed evidence of a release, a hold or a withdrawal, read beside a running service."""

from __future__ import annotations

import argparse
import json
from contextlib import closing
from hashlib import sha256
from pathlib import Path

from alerts.site_words import FOLDER, load
from cure.dashboard.cautions import cautions
from deploy.cli_site import DONE, REFUSED, add_site, complain, say, setup_of
from deploy.folders import data_folder
from deploy.status import CAUTION_LINE
from shared.errors import RecordError
from shared.models.base import Operation, PourId
from shared.ports import BoardBook
from shared.store import read_board, read_readings


def add_record(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    parser.add_argument("of", metavar="BAY|POUR", help="a bay, whose open pour is meant, or a pour, open or closed")
    parser.add_argument("operation", help="such as strip, walk or load")
    parser.add_argument("out", metavar="OUT.pdf", help="where to write it; nothing is written over")
    parser.add_argument("--number", type=int, metavar="NO", help="an earlier one, by its number (default: the newest)")
    parser.add_argument(
        "--address", metavar="URL", help="of the service's pages, for a code to scan (default: no code)"
    )
    add_site(parser)


def pour_of(book: BoardBook, name: str) -> PourId:
    """Return the pour of that name, or the open one in the bay of that name. Raises `RecordError`."""
    if name in {bay.id for bay in book.site().bay}:
        found = next((row.pour.id for row in book.board() if row.pour.bay == name), None)
        if found is None:
            raise RecordError(f"bay {name} has no open pour; name the pour itself")
        return found
    return PourId(name)


def record(args: argparse.Namespace) -> int:
    """Write the record of a release, a hold or a withdrawal as an archival PDF with its evidence inside."""
    # Its compiler takes longer to load than any other command to run.
    from cure.dashboard.record import gather, message_for, numbered, render

    setup, out = setup_of(args), Path(args.out)
    folder, words = data_folder(setup), load(Path(setup.folder, FOLDER))
    with read_board(setup, folder) as book, closing(read_readings(setup, folder)) as stored:
        pour, operation = pour_of(book, args.of), Operation(args.operation)
        message = message_for(book, pour, operation) if args.number is None else numbered(book, args.number)
        if message.pour != pour or message.subject not in {operation, ""}:
            complain(f"no. {message.no} is of {message.subject or 'the whole pour'} of {message.pour}")
            return REFUSED
        said = cautions(message, words, book.site().site.units, CAUTION_LINE)
        pdf = render(gather(book, stored, message, said, args.address))
    with out.open("xb") as file:
        file.write(pdf)
    digest = sha256(pdf).hexdigest()
    if args.json:
        told = {"record": message.no, "kind": message.kind, "pour": pour, "operation": operation}
        say(json.dumps({**told, "file": str(out), "sha256": digest}))
    else:
        say(f"written: {out}\nrecord {message.no}, {message.kind}, {operation} of {pour}\nsha256 {digest}")
    return DONE
