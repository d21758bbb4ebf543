"""Whatever a page shows or does, the interface for other software does too: the two tables held against each other."""

from __future__ import annotations

from typing import Final

import pytest

from cure.dashboard.rules import API, API_RULES, RULES, Comer, may
from shared.models.people import Role
from shared.models.tokens import Scope

Route = tuple[str, str]
COUNTERPARTS: Final[dict[Route, str]] = {
    ("GET", "/"): "GET board, GET bays",
    ("GET", "/board/rows"): "GET board",
    ("GET", "/bay/{bay}"): "GET bays/{bay}, GET bays/{bay}/curve, GET gates",
    ("GET", "/bay/{bay}/part"): "GET bays/{bay}, GET bays/{bay}/curve",
    ("POST", "/bay/{bay}/under-way"): "POST acts/under-way",
    ("POST", "/bay/{bay}/done"): "POST acts/done",
    ("POST", "/bay/{bay}/cover"): "POST acts/cover",
    ("POST", "/bay/{bay}/heat"): "POST acts/heat",
    ("GET", "/tickets/{bay}"): "GET bays/{bay}/tickets",
    ("POST", "/tickets/{bay}"): "POST acts/ticket",
    ("POST", "/tickets/{bay}/answer"): "POST acts/ticket-answer",
    ("GET", "/photo/{digest}"): "GET photos/{digest}",
    ("GET", "/sets"): "GET form-sets",
    ("POST", "/sets"): "POST acts/form-set",
    ("GET", "/holds/{bay}"): "GET holds, GET bays/{bay}",
    ("GET", "/requirements"): "GET requirements, GET requirements/history",
    ("POST", "/requirements/preview"): "POST requirements/preview",
    ("POST", "/requirements"): "POST requirements",
    ("GET", "/pour/{bay}"): "GET bays/{bay}",
    ("POST", "/pour/{bay}/start"): "POST acts/pour-start",
    ("POST", "/pour/{bay}/take-back"): "POST acts/take-back",
    ("POST", "/pour/{bay}/end"): "POST acts/pour-end",
    ("GET", "/check/{bay}"): "GET bays/{bay}, GET loggers",
    ("POST", "/check/{bay}"): "POST acts/second-check",
    ("GET", "/days"): "GET days",
    ("GET", "/plan"): "GET plan, POST plan",
    ("GET", "/sign"): "GET gates",
    ("POST", "/sign"): "POST signatures",
    ("GET", "/stop/{bay}"): "GET bays/{bay}",
    ("POST", "/stop/{bay}"): "POST acts/stop",
    ("GET", "/messages"): "GET messages",
    ("GET", "/message/{no}"): "GET messages/{no}, GET messages/{no}/texts",
    ("POST", "/message/{no}/confirm"): "POST acts/confirm",
    ("GET", "/records"): "GET records",
    ("GET", "/record/{no}.pdf"): "GET records/{no}/pdf",
    ("GET", "/records/set.pdf"): "GET handover.pdf",
    ("GET", "/records/pour/{pour}.pdf"): "GET pours/{pour}/pdf",
    ("GET", "/r/{no}"): "GET records/{no}",
    ("GET", "/ready"): "GET ready",
    ("POST", "/ready/{bay}"): "POST acts/ready",
    ("GET", "/diary"): "GET diary",
    ("GET", "/breaks"): "GET break-orders, GET test-results, GET verification",
    ("POST", "/breaks"): "POST acts/test-result",
    ("GET", "/shift"): "GET shift",
    ("POST", "/shift/take-over"): "POST acts/take-over",
    ("GET", "/ledger"): "GET tables/{table}.csv",
    ("GET", "/ledger.csv"): "GET tables/{table}.csv",
    ("GET", "/ledger.xlsx"): "GET tables/{table}.xlsx",
    ("GET", "/ledger.parquet"): "GET tables/{table}.parquet",
    ("GET", "/forecasts"): "GET forecast-scores",
    ("GET", "/mixes"): "GET calibrations, GET verification",
    ("GET", "/mix/{mix}"): "GET calibrations, GET verification, GET test-results, GET break-orders",
    ("POST", "/mix/{mix}/break"): "POST acts/test-result",
    ("GET", "/mix/{mix}/calibrate"): "GET calibrations",
    ("POST", "/mix/{mix}/calibrate"): "POST mixes/{mix}/calibrate",
    ("POST", "/mix/{mix}/put-in-force"): "POST mixes/{mix}/put-in-force",
    ("GET", "/loggers"): "GET loggers, GET refusals",
    ("POST", "/loggers/again"): "POST acts/screen-again",
    ("GET", "/logger/{logger}"): "GET loggers/{logger}",
    ("POST", "/logger/{logger}/place"): "POST acts/place-sensor",
    ("POST", "/logger/{logger}/remove"): "POST acts/remove-sensor",
    ("GET", "/labels"): "GET labels",
    ("GET", "/people"): "GET people",
    ("GET", "/devices"): "GET devices",
}
"""Of each page, form and download, what of the interface shows or does the same."""
SIGNING_IN = "a token is how software comes in; the second factor is a person's"
LETTING_IN = "who comes in is decided by a person at a page: a token that could let others in would outlive its end"
OF_A_BROWSER = "it is about the browser itself"
EXCEPTIONS: Final[dict[Route, str]] = {
    ("GET", "/static/{name}"): OF_A_BROWSER,
    ("GET", "/sign-in"): SIGNING_IN,
    ("POST", "/sign-in"): SIGNING_IN,
    ("POST", "/sign-out"): SIGNING_IN,
    ("GET", "/settings"): OF_A_BROWSER,
    ("POST", "/settings"): OF_A_BROWSER,
    ("GET", "/welcome/{token}"): SIGNING_IN,
    ("POST", "/welcome/{token}"): SIGNING_IN,
    (
        "POST",
        "/holds/{bay}",
    ): "a hold is lifted by a person who has read it and looked at the slab; of tickets: acts/ticket-answer",
    ("POST", "/people/invite"): LETTING_IN,
    ("POST", "/people/end"): LETTING_IN,
    ("POST", "/devices/add"): LETTING_IN,
    ("POST", "/devices/end"): LETTING_IN,
    ("GET", "/device/{token}"): OF_A_BROWSER,
    ("POST", "/device/{token}"): OF_A_BROWSER,
    ("GET", "/help"): "words about the pages; openapi.json says what stands in the interface",
}
"""What the interface leaves to pages, and why."""
BESIDE: Final = {
    *("GET me", "GET site", "GET evidence/{digest}", "GET readings", "GET decisions"),
    *("POST acts/want", "POST acts/hand-reading"),
}
"""What the interface has beside what pages show and do: of the command line, or of software's own."""


def of_api(said: str) -> list[Route]:
    """Return the routes that a line of the table names."""
    return [(method, f"{API}/{path}") for method, path in (one.split(" ") for one in said.split(", "))]


def test_every_page_form_and_download_has_its_counterpart_or_the_reason_why_not() -> None:
    assert not COUNTERPARTS.keys() & EXCEPTIONS.keys()
    lacking = RULES.keys() - COUNTERPARTS.keys() - EXCEPTIONS.keys()
    assert lacking == set(), "a page shows or does something that the interface does not: give it a route there"
    assert COUNTERPARTS.keys() | EXCEPTIONS.keys() == RULES.keys(), "a line of a page that is gone"


def test_every_route_of_the_interface_is_a_counterpart_or_stands_beside_the_pages() -> None:
    named = {route for said in COUNTERPARTS.values() for route in of_api(said)}
    beside = {route for said in BESIDE for route in of_api(said)}
    assert not named & beside
    assert named | beside == {route for route in API_RULES if route[1].startswith(API)}


@pytest.mark.parametrize(("route", "said"), COUNTERPARTS.items(), ids=str)
def test_who_may_at_the_page_may_by_a_token_too_and_nobody_else_acts(route: Route, said: str) -> None:
    people = {role for role in Role if may(*route, role)}
    for other in of_api(said):
        rule = API_RULES[other]
        if route[0] == "POST":
            assert other[0] == "POST"
            # A token is of a person: whoever needs none at the page (STOP) needs some token.
            assert rule.roles >= people
            assert rule.scope is not Scope.READ
            if not may(*route, Comer.NOBODY) and "acts/" not in other[1]:
                assert rule.roles == people
        elif other[0] == "GET":
            assert rule.roles >= people, (route, other)
            assert rule.scope is Scope.READ
