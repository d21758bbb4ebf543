from __future__ import annotations

import pytest
from fastapi import APIRouter, Response
from starlette.types import ASGIApp
from web_support import ask

from deploy.web import DESCRIPTION, application
from shared.web_headers import HEADERS, OVER_TLS


def part() -> APIRouter:
    router = APIRouter()

    @router.get("/page")
    def page() -> dict[str, str]:
        return {"page": "one"}

    @router.get("/fails")
    def fails() -> None:
        raise RuntimeError("a part of it")

    @router.get("/old")
    def old() -> Response:
        return Response("kept", headers={"Cache-Control": "max-age=31536000, immutable"})

    return router


@pytest.fixture
def app() -> ASGIApp:
    return application([part()])


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/alive", 200),
        ("HEAD", "/alive", 200),
        ("GET", "/page", 200),
        ("POST", "/page", 405),
        ("GET", "/nowhere", 404),
        ("GET", "/fails", 500),
        ("GET", DESCRIPTION, 200),
    ],
)
def test_every_answer_bears_the_headers(app: ASGIApp, method: str, path: str, status: int) -> None:
    answer = ask(app, method, path)
    assert answer.status_code == status
    assert {name: answer.headers.get_list(name) for name in HEADERS} == {n: [v] for n, v in HEADERS.items()}


def test_over_tls_a_browser_is_told_to_ask_no_more_without(app: ASGIApp) -> None:
    assert "strict-transport-security" not in ask(app, "GET", "/page").headers
    over_tls = ask(app, "GET", "https://site.example/page").headers
    assert {name: over_tls[name] for name in OVER_TLS} == OVER_TLS


def test_a_part_may_say_itself_how_long_an_answer_keeps(app: ASGIApp) -> None:
    answer = ask(app, "GET", "/old")
    assert answer.headers.get_list("cache-control") == ["max-age=31536000, immutable"]
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_alive_is_small(app: ASGIApp) -> None:
    assert ask(app, "GET", "/alive").text == "alive\n"


def test_a_failure_tells_nothing_of_its_cause(app: ASGIApp) -> None:
    assert "a part of it" not in ask(app, "GET", "/fails").text


@pytest.mark.parametrize("path", ["/docs", "/redoc", "/openapi.json", "/alive/"])
def test_no_page_that_loads_from_elsewhere_is_served_and_nothing_is_redirected(app: ASGIApp, path: str) -> None:
    assert ask(app, "GET", path).status_code == 404


def test_the_interface_describes_itself(app: ASGIApp) -> None:
    assert {"/page", "/alive"} <= ask(app, "GET", DESCRIPTION).json()["paths"].keys()
