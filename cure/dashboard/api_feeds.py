"""What other software fetches as a whole: tables as CSV, records as PDF, the calendar, numbers for monitoring."""

from collections.abc import Callable
from typing import Annotated, Any, Literal

from fastapi import Path, Query, Request, Response
from fastapi.responses import StreamingResponse

from cure.dashboard import api_models as m
from cure.dashboard.api_door import ApiParts, CallerIn, ProblemError
from cure.dashboard.api_reads import From, NumberInPath, To, in_ms
from cure.dashboard.calendar import calendar
from cure.dashboard.downloads import KINDS
from cure.dashboard.public import public_address
from cure.dashboard.rules import API
from shared.errors import MissingExtraError, TooManyRowsError

# Without `from __future__ import annotations`: FastAPI reads the types that are made here, per route.
Table = Literal["readings", "estimates", "decisions", "ledger"]
InPath = Annotated[Table, Path()]
Bays = Annotated[list[m.BayName] | None, Query(max_length=100, description="only this bay; again for more")]
TokenInPath = Annotated[str, Path(max_length=100, description="a token of the scope calendar")]
LAST_MS = 253_402_300_799_999
"""End of the year 9999."""
TEXT = "text/plain; version=0.0.4; charset=utf-8"
"""What Prometheus reads."""


def named(file: str) -> dict[str, str]:
    """Return what lets a browser keep an answer under a name."""
    return {"Content-Disposition": f'attachment; filename="{file}"'}


def feeds(api: ApiParts) -> dict[tuple[str, str], Callable[..., Any]]:
    """Return what answers the routes of whole files."""

    def table(_caller: CallerIn, table: InPath, since: From = None, to: To = None, bay: Bays = None) -> Response:
        """A table as CSV, as `slabhour export` writes it; `from` begins with everything here."""
        begin, end = 0 if since is None else in_ms(since), LAST_MS if to is None else in_ms(to)
        lines = api.table(table, begin, end, tuple(bay or ()))
        return StreamingResponse(lines, media_type="text/csv; charset=utf-8", headers=named(f"{table}.csv"))

    def file(ending: str) -> Callable[..., Response]:
        def of(_caller: CallerIn, table: InPath, since: From = None, to: To = None, bay: Bays = None) -> Response:
            """The same table as a file for a spreadsheet or for analysis; it takes the extra of that name."""
            begin, end = 0 if since is None else in_ms(since), LAST_MS if to is None else in_ms(to)
            try:
                body = api.table_file(f"{table}.{ending}", begin, end, tuple(bay or ()))
            except MissingExtraError as error:
                raise ProblemError(501, f"{error}; or ask for {table}.csv") from error
            except TooManyRowsError as error:
                raise ProblemError(422, str(error)) from error
            return StreamingResponse(body, media_type=KINDS[ending], headers=named(f"{table}.{ending}"))

        return of

    def record_pdf(caller: CallerIn, no: NumberInPath, request: Request) -> Response:
        """A record as PDF, with its evidence inside."""
        body = api.record(no, public_address(caller.site, str(request.base_url).rstrip("/")))
        return Response(body, media_type="application/pdf", headers=named(f"record-{no}.pdf"))

    def metrics(caller: CallerIn) -> Response:
        """Numbers for monitoring, in the text format of Prometheus."""
        return Response(api.metrics(caller.now), media_type=TEXT)

    def hours(caller: CallerIn, token: TokenInPath) -> Response:  # noqa: ARG001 - the guard has read it
        """EXPECTED, NOT RELEASED, for a calendar that subscribes to it."""
        board = api.parts.board
        doubted = bool(board.doubts())
        text = calendar(board.board(), caller.site, caller.now, caller.reader, api.caution, doubted=doubted)
        return Response(text, media_type="text/calendar; charset=utf-8")

    return {
        ("GET", f"{API}/tables/{{table}}.csv"): table,
        **{("GET", f"{API}/tables/{{table}}.{ending}"): file(ending) for ending in KINDS},
        ("GET", f"{API}/records/{{no}}/pdf"): record_pdf,
        ("GET", "/metrics"): metrics,
        ("GET", "/calendar/{token}.ics"): hours,
    }
