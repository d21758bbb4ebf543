"""The record of a release, a hold or a withdrawal: an archival, accessible PDF with its evidence inside.

PDF/A-3a and PDF/UA-1, checked by Typst when it is made. The same input gives the same bytes: a record can be made
again at any time and compared.
"""

from __future__ import annotations

import io
import json
from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import asdict, dataclass
from datetime import datetime
from importlib.resources import files
from typing import Final

import segno
import typst

from cure.dashboard.look import as_of
from cure.dashboard.record_facts import RECORDED, Sheet, Source, sheet
from shared.errors import RecordError, StoreError
from shared.models.base import Json, Operation, PourId
from shared.models.decisions import Gate, GateState, HoldKind
from shared.models.messages import Message, MessageKind
from shared.ports import BoardBook, Readings

TEMPLATE: Final = "record.typ"
DECISION: Final = "The decision, its facts and the evidence that was kept of it"
READINGS: Final = "Every reading since the first concrete through the decision"
_HOLDS: Final = (MessageKind.HOLD, MessageKind.FREEZE_LOCKED, MessageKind.FREEZE_SUSPECTED)
_TOLD_BY: Final = {
    GateState.RELEASED: (MessageKind.RELEASED,),
    GateState.UNDER_WAY: (MessageKind.RELEASED, MessageKind.MET_NOT_SIGNED),
    GateState.DONE: (MessageKind.RELEASED, MessageKind.MET_NOT_SIGNED),
    GateState.MET: (MessageKind.MET_NOT_SIGNED,),
    GateState.WITHDRAWN: (MessageKind.WITHDRAWAL,),
    GateState.DONE_WITHOUT_RELEASE: (MessageKind.WITHDRAWAL,),
    GateState.HOLD: _HOLDS,
}
"""Which messages told the state in which a gate is; a state that is not here was told by none."""


@dataclass(frozen=True, slots=True)
class Attached:
    """A file inside a PDF."""

    name: str
    text: str
    kind: str
    about: str


def render(source: Source) -> bytes:
    """Return the record as a PDF."""
    made = sheet(source)
    return set_document(str(made.printed["title"]), made.at, [{**made.printed, **_code(source)}], attached(made, ""))


def printed_set(sources: Sequence[Source]) -> tuple[list[Mapping[str, Json]], list[Attached]]:
    """Return the sheets of several records, and what they carry inside under names of their own."""
    made = [(sheet(source), source) for source in sources]
    sheets: list[Mapping[str, Json]] = [{**of.printed, **_code(source)} for of, source in made]
    return sheets, [file for of, source in made for file in attached(of, f"record-{source.message.no}-")]


def attached(made: Sheet, before: str) -> list[Attached]:
    """Return what a sheet carries inside, its names with something before them."""
    return [
        Attached(f"{before}decision.json", made.decision.decode(), "application/json", DECISION),
        Attached(f"{before}readings.csv", made.readings.decode(), "text/csv", READINGS),
    ]


def _code(source: Source) -> Mapping[str, str]:
    """Return the picture to scan, which leads to the page that says whether the record still stands, and its words."""
    if source.address is None:
        return {"code": "", "code_words": ""}
    # The check code lets whoever holds the sheet ask without an account.
    code = f"?code={source.message.code}" if source.message.code else ""
    link = f"{source.address.rstrip('/')}/r/{source.message.no}{code}"
    out = io.BytesIO()
    segno.make(link, error="m", micro=False).save(out, kind="svg", border=2, xmldecl=False, scale=4)
    return {"code": out.getvalue().decode(), "code_words": f"Code to scan: {link}"}


def set_document(
    title: str, at: datetime, sheets: Sequence[Mapping[str, Json]], attachments: Sequence[Attached]
) -> bytes:
    """Return sheets as one PDF/A-3a and PDF/UA-1.

    Args:
        title: of the document.
        at: its hour: the same input gives the same bytes.
        sheets: what is printed, one or more.
        attachments: files inside it.
    """
    document = {
        "title": title,
        "site": sheets[0]["site"],
        "date": [*at.timetuple()[:3]],
        "sheets": list(sheets),
        "files": [asdict(file) for file in attachments],
    }
    found = typst.compile(
        files("cure.dashboard").joinpath(TEMPLATE).read_bytes(),
        format="pdf",
        sys_inputs={"document": json.dumps(document, allow_nan=False)},
        ignore_system_fonts=True,
        pdf_standards=["a-3a", "ua-1"],
        timestamp=at,
    )
    if not isinstance(found, bytes):
        raise TypeError("a PDF is one file")
    return found


def message_for(book: BoardBook, pour: PourId, operation: Operation) -> Message:
    """Return the newest message that told where a gate stands. Raises `RecordError` when there is none."""
    case = book.case(pour)
    gate = case.gates.get(operation)
    if gate is None:
        known = ", ".join(case.gates) or "none"
        raise RecordError(f"{operation} is not an operation of {pour}; it has: {known}")
    open_holds = {hold.kind for hold in case.holds}
    told = [m for m in book.messages() if m.pour == pour and _tells(m, gate, open_holds)]
    if not told:
        raise RecordError(
            f"{operation} of {pour} is {gate.state}: a record is of a release, a hold or a withdrawal, and there is "
            "none now; a record of before is made by its number"
        )
    return told[-1]


def _tells(message: Message, gate: Gate, open_holds: AbstractSet[HoldKind]) -> bool:
    if message.kind not in _TOLD_BY.get(gate.state, ()):
        return False
    if message.kind in _HOLDS:
        return message.facts.get("hold") in open_holds
    return message.subject == gate.operation


def numbered(book: BoardBook, no: int) -> Message:
    """Return the message of a record's number. Raises `RecordError` when that has no record."""
    message = book.message(no)
    if message is None:
        raise RecordError(f"there is no record {no}")
    if message.kind not in RECORDED:
        raise RecordError(f"no. {no} is a message of the kind {message.kind}: it has no record")
    return message


def gather(
    book: BoardBook, stored: Readings, message: Message, cautions: tuple[str, ...], address: str | None = None
) -> Source:
    """Return everything that a record is made of, with the readings through the hour of its message.

    Raises:
        StoreError: a store failed, or the evidence that the message names is not there.
    """
    digest = message.facts.get("snapshot")
    kept = None if digest is None else book.evidence(digest)
    if digest is not None and kept is None:
        raise StoreError(f"the evidence {digest} of no. {message.no} is not in the book")
    return Source(message, as_of(book.case(message.pour), stored, message.at_ms), kept, cautions, address)
