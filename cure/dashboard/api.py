"""The interface for other software as a router: `app.include_router(api(parts))`, before the pages.

Every route has a line in `rules.API_RULES`, which says the scope and the roles that it takes.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from fastapi import APIRouter, Depends, Request, Response, Security
from fastapi.routing import APIRoute
from fastapi.security import HTTPAuthorizationCredentials
from starlette.routing import Match

from cure.dashboard import downloads
from cure.dashboard.api_ahead import ahead
from cure.dashboard.api_bays import bays
from cure.dashboard.api_curve import curves
from cure.dashboard.api_door import ANSWERS, BEARER, ApiParts, ProblemRoute, caller_of, problem
from cure.dashboard.api_feeds import TEXT, feeds
from cure.dashboard.api_hands import hands
from cure.dashboard.api_holds import holds
from cure.dashboard.api_laboratory import laboratory
from cure.dashboard.api_loggers import loggers
from cure.dashboard.api_models import Acted
from cure.dashboard.api_office import office
from cure.dashboard.api_people import people
from cure.dashboard.api_plan import plans
from cure.dashboard.api_reads import BoardReads, ListReads
from cure.dashboard.api_requirements import requirements
from cure.dashboard.api_sheets import sheets
from cure.dashboard.api_writes import writes
from cure.dashboard.rules import API, API_RULES

KINDS: Final = {
    f"{API}/tables/{{table}}.csv": "text/csv",
    **{f"{API}/tables/{{table}}.{ending}": kind for ending, kind in downloads.KINDS.items()},
    f"{API}/records/{{no}}/pdf": "application/pdf",
    f"{API}/handover.pdf": "application/pdf",
    f"{API}/pours/{{pour}}/pdf": "application/pdf",
    f"{API}/photos/{{digest}}": "image/*",
    "/metrics": TEXT.partition(";")[0],
    "/calendar/{token}.ics": "text/calendar",
}
"""What is answered that is no JSON."""
ASKS: Final = frozenset({f"{API}/mixes/{{mix}}/calibrate", f"{API}/requirements/preview", f"{API}/plan"})
"""POST that changes nothing: what is asked is too long for an address."""
METHODS: Final = ("GET", "POST", "PUT", "PATCH", "DELETE")


PARTS: Final = (
    *(office, writes, feeds, plans, curves, ahead, bays, holds, sheets, loggers, laboratory, requirements, people),
    hands,
)
"""Each returns what answers which route."""


def guard(api: ApiParts, route: tuple[str, str]) -> Callable[..., None]:
    """Return what lets a caller through to a route, or raises `ProblemError`."""

    def guarded(request: Request, given: HTTPAuthorizationCredentials | None = Security(BEARER)) -> None:  # noqa: B008
        # A calendar cannot send a header: its token stands in the address, and opens nothing else.
        secret = request.path_params.get("token", "" if given is None else given.credentials)
        request.state.caller = caller_of(api, request, secret, route)

    return guarded


def handlers(api: ApiParts) -> dict[tuple[str, str], Callable[..., Any]]:
    """Return what answers each route."""
    found = {**BoardReads(api).handlers(), **ListReads(api).handlers()}
    for of in PARTS:
        found |= of(api)
    return found


def api(parts: ApiParts) -> APIRouter:
    """Return the router.

    Raises:
        KeyError: a route has no line in the rules, or a line has no route.
    """
    endpoints = handlers(parts)
    if endpoints.keys() != API_RULES.keys():
        both = sorted(endpoints.keys() ^ API_RULES.keys())
        raise KeyError(f"routes without a rule, or rules without a route: {both}")
    router = APIRouter(route_class=ProblemRoute)
    for (method, path), endpoint in endpoints.items():
        more: dict[str, Any] = {"dependencies": [Depends(guard(parts, (method, path)))]}
        responses = {**ANSWERS}
        if path in KINDS:
            responses[200] = {"content": {KINDS[path]: {}}, "description": "the file"}
            more["response_class"] = Response
        if method == "POST" and path not in ASKS:
            responses[200] = {"model": Acted, "description": "carried out"}
        router.add_api_route(path, endpoint, methods=[method], responses=responses, **more)
    router.add_api_route(f"{API}/{{rest:path}}", _nowhere(router), include_in_schema=False, methods=[*METHODS])
    return router


def _nowhere(router: APIRouter) -> Callable[[Request], Response]:
    """Return what answers below the interface where no route does: also that, and not a page, is a problem."""

    def nowhere(request: Request) -> Response:
        near = (r for r in router.routes if isinstance(r, APIRoute) and r.matches(request.scope)[0] is Match.PARTIAL)
        allowed = sorted({method for route in near for method in route.methods or ()})
        if allowed:
            return problem(405, "not by this method", {"Allow": ", ".join(allowed)})
        return problem(404, f"there is nothing here; {API}/openapi.json says what there is")

    return nowhere
