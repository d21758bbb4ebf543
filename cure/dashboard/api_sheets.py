"""What other software fetches to file: a message in its exact words, handover sets and records of whole pours."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from fastapi import Path, Query, Request, Response
from pydantic import BaseModel

from cure.dashboard.api_door import ApiParts, CallerIn, ProblemError
from cure.dashboard.api_feeds import named
from cure.dashboard.api_models import BayName
from cure.dashboard.api_reads import NumberInPath
from cure.dashboard.public import public_address
from cure.dashboard.record_pages import MOST, has_record, set_of
from cure.dashboard.rules import API
from cure.dashboard.standings import standings
from cure.dashboard.told import worded
from shared.models.base import PourId, PourName

PDF = "application/pdf"
Floor = Annotated[str | None, Query(min_length=1, max_length=32, description="of the site file")]
Bay = Annotated[BayName | None, Query(description="instead of a floor, or of it")]
PourInPath = Annotated[PourName, Path(description="name of a pour, open or closed")]


class WordsAnswer(BaseModel):
    """A message as people who speak a language got it."""

    language: str
    short: str
    subject: str
    body: str


class TextsAnswer(BaseModel):
    """A message in its exact words."""

    no: int
    standing: str | None
    """Whether what it says stands still; null: it neither permits nor shuts anything."""
    texts: list[WordsAnswer]


def sheets(api: ApiParts) -> dict[tuple[str, str], Callable[..., Any]]:
    """Return what answers which route."""
    parts, board = api.parts, api.parts.board

    def texts(caller: CallerIn, no: NumberInPath) -> TextsAnswer:
        """The exact words of a message in each language in which somebody got it, and whether they stand still."""
        message = board.message(no)
        if message is None:
            raise ProblemError(404, f"there is no message no. {no}")
        stands = standings(board, board.board(), caller.site, caller.now)(message)
        found = worded(message, board.deliveries_of([no]), caller.site, caller.reader, parts.texts)
        said = [
            WordsAnswer(language=w.language, short=w.text.short, subject=w.text.subject, body=w.text.body)
            for w in found
        ]
        return TextsAnswer(no=no, standing=None if stands is None else stands.value, texts=said)

    def handover(caller: CallerIn, request: Request, floor: Floor = None, bay: Bay = None) -> Response:
        """All records of a floor or a bay as one PDF, behind a sheet that says which still stand."""
        if floor is None and bay is None:
            raise ProblemError(422, "floor or bay: one of them must be said")
        which, records = set_of(parts, caller.site, caller.now, floor or "", bay or "")
        if not records:
            raise ProblemError(404, "no record is of that floor or bay")
        if len(records) > MOST:
            raise ProblemError(409, f"a set holds {MOST} records, there are more: ask for a bay at a time")
        address = public_address(caller.site, str(request.base_url).rstrip("/"))
        return Response(parts.printer.handover(which, records, address), media_type=PDF, headers=named("handover.pdf"))

    def pour(_caller: CallerIn, pour: PourInPath) -> Response:
        """The record of a whole pour as PDF, with its cold-weather log."""
        if not has_record(board, pour):
            raise ProblemError(404, f"nothing is recorded of a pour {pour}")
        return Response(parts.printer.pour(PourId(pour)), media_type=PDF, headers=named(f"pour-{pour}.pdf"))

    return {
        ("GET", f"{API}/messages/{{no}}/texts"): texts,
        ("GET", f"{API}/handover.pdf"): handover,
        ("GET", f"{API}/pours/{{pour}}/pdf"): pour,
    }
