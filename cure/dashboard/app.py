"""The pages as a router. `deploy` gives the parts and mounts it: `app.include_router(pages(parts))`.

Compression and the pages of what goes wrong are its own; the headers of every answer and `/alive`, which its script
polls, come from whoever mounts it. What `not_found(parts)` returns answers an address that leads nowhere.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import replace
from typing import Final

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from cure.dashboard import (
    bay_pages,
    board_pages,
    break_pages,
    calibrate_pages,
    check_pages,
    days_pages,
    device_pages,
    diary_pages,
    forecast_pages,
    help_pages,
    hold_pages,
    label_pages,
    ledger_pages,
    logger_pages,
    message_pages,
    mix_pages,
    people_pages,
    plan_pages,
    pour_pages,
    protect_pages,
    ready_pages,
    record_pages,
    requirement_pages,
    set_pages,
    shift_pages,
    sign_in_pages,
    sign_pages,
    stop_pages,
    ticket_pages,
    welcome_pages,
)
from cure.dashboard.answers import finished
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.entrance import Endpoint, Entrance, Handler
from cure.dashboard.rendering import environment, problem, static_answer, static_files, words
from cure.dashboard.rules import RULES

PAGES: Final = (
    *(board_pages, bay_pages, pour_pages, sign_pages, stop_pages),
    *(sign_in_pages, welcome_pages, people_pages, device_pages, plan_pages, diary_pages, ready_pages, days_pages),
    *(message_pages, record_pages, logger_pages, label_pages, help_pages, mix_pages, calibrate_pages, check_pages),
    *(protect_pages, ticket_pages, set_pages, requirement_pages, ledger_pages, forecast_pages, shift_pages),
    *(break_pages, hold_pages),
)
"""Each has `handlers(parts)`: what answers which route."""


def pages(parts: Parts) -> APIRouter:
    """Return the router of all pages. Opens nothing; reads templates, words and static files once.

    Raises:
        KeyError: a route has no line in the rules, or a line has no route.
    """
    for read in (environment, words, static_files):
        read()
    entrance = Entrance(parts)
    endpoints = {route: entrance.endpoint(*route, handler) for route, handler in handlers(parts).items()}
    endpoints |= {("GET", "/static/{name}"): _static}
    if endpoints.keys() != RULES.keys():
        raise KeyError(f"routes without a rule, or rules without a route: {sorted(endpoints.keys() ^ RULES.keys())}")
    router = APIRouter()
    for (method, path), endpoint in endpoints.items():
        router.add_route(path, endpoint, [method], include_in_schema=False)
    return router


def handlers(parts: Parts) -> dict[tuple[str, str], Handler]:
    """Return what answers each route that asks the stores."""
    return {route: handler for of in PAGES for route, handler in of.handlers(parts).items()}


def not_found(parts: Parts) -> Callable[[Request, Exception], Awaitable[Response]]:
    """Return what answers an address that leads nowhere."""
    entrance = Entrance(parts)

    def nowhere(asked: Asked) -> Response:
        return problem(replace(asked, route=""), "not-found", status=404)

    # Everybody may ask for an address that leads nowhere, as for the settings.
    answer: Endpoint = entrance.endpoint("GET", "/settings", nowhere)

    async def answered(request: Request, _: Exception) -> Response:
        return await answer(request)

    return answered


async def _static(request: Request) -> Response:
    return finished(static_answer(request.path_params["name"], request.headers.get("accept-encoding", "")), "")
