"""What other software fetches as a whole: tables as CSV, records as PDF, the calendar, numbers for monitoring."""

from collections.abc import Callable
from typing import Annotated, Any, Literal

from fastapi import Path, Query, Request, Response
from fastapi.responses import StreamingResponse

from cure.dashboard import api_models as m
from cure.dashboard.api_door import ApiParts, CallerIn
from cure.dashboard.api_reads import From, NumberInPath, To, in_ms
from cure.dashboard.calendar import calendar
from cure.dashboard.rules import API

# Without `from __future__ import annotations`: FastAPI reads the types that are made here, per route.
Table = Literal["readings", "estimates", "decisions", "ledger"]
TokenInPath = Annotated[str, Path(max_length=100, description="a token of the scope calendar")]
LAST_MS = 253_402_300_799_999
"""End of the year 9999."""
TEXT = "text/plain; version=0.0.4; charset=utf-8"
"""What Prometheus reads."""


def feeds(api: ApiParts) -> dict[tuple[str, str], Callable[..., Any]]:
    """Return what answers the routes of whole files."""

    def table(
        _caller: CallerIn,
        table: Annotated[Table, Path()],
        since: From = None,
        to: To = None,
        bay: Annotated[
            list[m.BayName] | None, Query(max_length=100, description="only this bay; again for more")
        ] = None,
    ) -> Response:
        """A table as CSV, as `slabhour export` writes it; `from` begins with everything here."""
        begin, end = 0 if since is None else in_ms(since), LAST_MS if to is None else in_ms(to)
        lines = api.table(table, begin, end, tuple(bay or ()))
        named = {"Content-Disposition": f'attachment; filename="{table}.csv"'}
        return StreamingResponse(lines, media_type="text/csv; charset=utf-8", headers=named)

    def record_pdf(_caller: CallerIn, no: NumberInPath, request: Request) -> Response:
        """A record as PDF, with its evidence inside."""
        named = {"Content-Disposition": f'attachment; filename="record-{no}.pdf"'}
        return Response(api.record(no, str(request.base_url).rstrip("/")), media_type="application/pdf", headers=named)

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
        ("GET", f"{API}/records/{{no}}/pdf"): record_pdf,
        ("GET", "/metrics"): metrics,
        ("GET", "/calendar/{token}.ics"): hours,
    }
