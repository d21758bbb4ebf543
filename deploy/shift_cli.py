"""`slabhour shift`: what the next shift must know, as the page says it."""

from __future__ import annotations

import argparse
import json
from contextlib import closing
from pathlib import Path
from typing import Any

from alerts import site_words
from cure.dashboard.asked import Visitor
from cure.dashboard.choosing import reader_of
from cure.dashboard.shift import Known, Sheet, sheet
from cure.dashboard.shown import shown_of
from cure.form_sets import KIND as MOVES
from cure.taken_over import KIND as TAKINGS
from cure.taken_over import change
from deploy.cli_site import DONE, say, setup_of
from deploy.folders import data_folder
from deploy.loggers import listed
from deploy.page_parts import texts_by
from deploy.status import CAUTION_LINE
from shared.clock import SystemClock
from shared.errors import ActRefusedError
from shared.models.base import Ms
from shared.models.setup import Setup
from shared.ports import BoardBook
from shared.shifts import site_hour
from shared.store import read_board, read_readings


def sheet_of(setup: Setup, book: BoardBook, now_ms: Ms) -> Sheet:
    """Return the sheet as it stands, in English."""
    site, catalogue = book.site(), site_words.load(Path(setup.folder, site_words.FOLDER))
    doubts = book.doubts()
    shown = shown_of(book, site, doubts, now_ms)
    with closing(read_readings(setup, data_folder(setup))) as readings:
        loggers = listed(site, book, readings, now_ms).rows
    known = Known(shown, loggers, book.acts_of(MOVES), texts_by(catalogue))
    return sheet(known, now_ms, reader_of(catalogue, site, Visitor(), {}, "en"))


def shift(args: argparse.Namespace) -> int:
    """Show what the next shift must know on one sheet, and who has taken the shift over."""
    setup, now_ms = setup_of(args), SystemClock().now()
    with read_board(setup, data_folder(setup)) as book:
        site, found = book.site().site, sheet_of(setup, book, now_ms)
        of = change(book.acts_of(TAKINGS), site.shift, site.zone, now_ms)
    taken = [{"who": act.who, "at_ms": act.at_ms, "note": act.note} for act in of.taken]
    if args.json:
        hours = {"begins_ms": of.shift.begins_ms, "ends_ms": of.shift.ends_ms, "taken_over": taken}
        say(json.dumps({"at_ms": now_ms, "shift": hours, **found.to_json(), "caution": CAUTION_LINE}))
        return DONE
    said = [f"{site_hour(now_ms, site.zone)}; sheet {found.code}"]
    said += [f"taken over by {act.who}, {site_hour(act.at_ms, site.zone)}: {act.note or '-'}" for act in of.taken] or [
        "nobody has taken this shift over"
    ]
    for key, entries in found.groups.items():
        said += [f"{key.replace('-', ' ')}:", *(f"    {e.of} {e.said}" for e in entries)] if entries else []
    nothing = [key.replace("-", " ") for key, entries in found.groups.items() if not entries]
    say("\n".join([*said, f"nothing: {', '.join(nothing) or '-'}", CAUTION_LINE]))
    return DONE


def seen(setup: Setup, given: dict[str, Any]) -> dict[str, Any]:
    """Return the fields of a shift taken over. Raises `ActRefusedError`: the sheet that was read stands no more."""
    with read_board(setup, data_folder(setup)) as book:
        stands = sheet_of(setup, book, SystemClock().now()).code
    if given["seen"] != stands:
        raise ActRefusedError(f"what stands has changed: the sheet is {stands} now; read it again, slabhour shift")
    return given
