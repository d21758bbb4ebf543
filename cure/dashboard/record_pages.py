"""Records: the list, the sheets, and the page that says whether one still stands."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from hmac import compare_digest
from typing import Final
from urllib.parse import quote

from starlette.responses import Response

from cure.dashboard.answers import see_other
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.message_pages import number_of, numbered
from cure.dashboard.people_pages import base_of
from cure.dashboard.record_facts import RECORDED
from cure.dashboard.rendering import page, problem
from cure.dashboard.rules import Comer
from cure.dashboard.standing import Standing
from cure.dashboard.standings import standings
from shared.models.acts import PourStart, TakeBack
from shared.models.base import THE_SITE, Ms, Operation, PourId
from shared.models.messages import Message
from shared.models.setup import SiteFile
from shared.ports import BoardBook, BoardRow, Which

MOST: Final = 100
"""Records in one handover set: each brings its readings."""
AT_ONCE: Final = 100
"""Records on a page."""


@dataclass(frozen=True, slots=True)
class Record:
    """One line of the list."""

    no: int
    bay: str
    what: str
    hour: str
    code: str
    standing: Standing | None


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", "/records"): lambda asked: _list(parts, asked),
        ("GET", "/record/{no}.pdf"): lambda asked: _sheet(parts, asked),
        ("GET", "/records/set.pdf"): lambda asked: _set(parts, asked),
        ("GET", "/records/pour/{pour}.pdf"): lambda asked: _pour(parts, asked),
        ("GET", "/r/{no}"): lambda asked: _still(parts, asked),
    }


def pdf(body: bytes, name: str) -> Response:
    """Return a PDF as an answer, to be read in the browser or kept under a name."""
    return Response(body, media_type="application/pdf", headers={"Content-Disposition": f'inline; filename="{name}"'})


def _what(asked: Asked, message: Message) -> str:
    kind = asked.reader.say(f"record-{message.kind.value.replace(' ', '-').replace(',', '')}")
    return f"{asked.reader.operation(Operation(message.subject))}: {kind}" if message.subject else kind


def _record(asked: Asked, message: Message, standing: Standing | None) -> Record:
    bay, hour = str(message.facts.get("bay", "")), asked.reader.whole_hour(message.at_ms)
    return Record(message.no, bay, _what(asked, message), hour, message.code, standing)


def _list(parts: Parts, asked: Asked) -> Response:
    bay, before = asked.query.get("bay", ""), number_of(asked.query.get("before", ""))
    # One more than are shown: whether there are older ones.
    found = parts.board.newest_messages(Which(RECORDED, bay=bay, before=before), AT_ONCE + 1)
    shown, rows = found[:AT_ONCE], parts.board.board()
    stands = standings(parts.board, rows, asked.site, asked.now, shown)
    gone = {} if before else void(parts.board)
    floors = [*(str(m.facts.get("floor", "")) for m in shown), *(b.floor for b in asked.site.bay)]
    return page(
        asked,
        "records.html",
        records=[_record(asked, m, stands(m)) for m in shown],
        bay=bay,
        floors=sorted(dict.fromkeys(filter(None, floors))) if shown else (),
        pours={pour: of for pour, of in (_pours(shown, () if before else rows) | gone).items() if bay in {"", of}},
        void=gone,
        before=shown[-1].no if len(found) > AT_ONCE else 0,
    )


def _sheet(parts: Parts, asked: Asked) -> Response:
    message = numbered(parts, asked)
    if message is None or message.kind not in RECORDED:
        return problem(asked, "no-record", status=404)
    return pdf(parts.printer.record(message, base_of(asked)), f"record-{message.no}.pdf")


def set_of(
    parts: Parts, site: SiteFile, now: Ms, floor: str, bay: str
) -> tuple[str, Sequence[tuple[Message, Standing]]]:
    """Return what a handover set is called, and its records by bay, as they were decided; above `MOST` are too many.

    Args:
        parts: of the pages.
        site: the set-up in force.
        now: site time.
        floor: of which; "": of whichever.
        bay: likewise; with neither there is no record.
    """
    of = Which(RECORDED, bay=bay, floor=floor)
    found = parts.board.newest_messages(of, MOST + 1) if floor or bay else []
    stands = standings(parts.board, parts.board.board(), site, now, found)
    records = [(m, still) for m in found if (still := stands(m)) is not None]
    named = ", ".join(f"{what} {name}" for what, name in (("floor", floor), ("bay", bay)) if name)
    return named, sorted(records, key=lambda of: (str(of[0].facts.get("bay")), of[0].no))


def _set(parts: Parts, asked: Asked) -> Response:
    """Hand out all records of a floor or of a bay in one."""
    floor, bay = asked.query.get("floor", ""), asked.query.get("bay", "")
    named, records = set_of(parts, asked.site, asked.now, floor, bay)
    if not records:
        return problem(asked, "no-record", status=404)
    if len(records) > MOST:
        count = parts.board.count_messages(Which(RECORDED, bay=bay, floor=floor))
        return problem(asked, "too-many-records", status=409, most=MOST, count=count)
    return pdf(parts.printer.handover(named, records, base_of(asked)), "handover.pdf")


def _pour(parts: Parts, asked: Asked) -> Response:
    name = asked.path["pour"]
    if not has_record(parts.board, name):
        return problem(asked, "no-record", status=404)
    return pdf(parts.printer.pour(PourId(name)), f"pour-{name}.pdf")


def has_record(board: BoardBook, pour: str) -> bool:
    """Return whether there is anything to read of a pour: it is open, or messages tell of it, or its start was taken
    back.
    """
    is_open = any(row.pour.id == pour for row in board.board())
    return is_open or bool(board.newest_messages(Which(pour=pour), 1)) or pour in void(board)


def void(board: BoardBook) -> dict[str, str]:
    """Return the pours whose start was taken back, with their bays."""
    back = {act.pour for act in board.acts_of("take_back") if isinstance(act, TakeBack)}
    starts = board.acts_of("pour_start") if back else ()
    return {act.pour: act.bay for act in starts if isinstance(act, PourStart) and act.pour in back}


def _pours(messages: Sequence[Message], rows: Sequence[BoardRow]) -> dict[str, str]:
    """Return the pours that messages tell of, and open ones, with their bays; by name."""
    said = {str(m.pour): str(m.facts.get("bay", "")) for m in messages if m.pour != THE_SITE}
    return dict(sorted((said | {str(row.pour.id): str(row.pour.bay) for row in rows}).items()))


def _still(parts: Parts, asked: Asked) -> Response:
    """Say whether a record stands: to whoever is signed in, and to whoever holds the sheet, by its check code."""
    message, stranger = numbered(parts, asked), asked.visitor.comer == Comer.NOBODY
    if stranger and not _holds_it(message, asked.query.get("code", "")):
        return see_other(f"/sign-in?next={quote(asked.here, safe='/')}")
    if message is None or message.kind not in RECORDED:
        return problem(asked, "no-record", status=404)
    record = _record(asked, message, standings(parts.board, parts.board.board(), asked.site, asked.now)(message))
    known = record.bay in {b.id for b in asked.site.bay}
    return page(asked, "record.html", record=record, known=known, stranger=stranger, person=asked.visitor.person)


def _holds_it(message: Message | None, code: str) -> bool:
    return message is not None and message.code != "" and compare_digest(message.code.encode(), code.encode())
