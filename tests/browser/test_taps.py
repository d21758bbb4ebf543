"""Tickets, covers and heating, form sets and requirements, as people get them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from browser_support import WIDTHS, keep_picture, tab
from cure_support import make_case
from pages_support import NOW, OTHER, Bench, bench_of, row, served
from playwright.sync_api import Browser, expect
from store_support import BAY, T0, opened_book

from cure.dashboard import door
from cure.requirement_preview import Previewed
from shared.models.acts import Cover, MoveSet, Require, Ticket, instant
from shared.models.base import HOUR_MS, STRIP, PourId
from shared.models.decisions import Finding, GateState, Hold, HoldKind
from shared.models.people import Role

POUR = PourId(f"{BAY}-p1")
PICTURE = b"\xff\xd8\xff\xc0\x00\x0b\x08\x01\x00\x02\x00\x01\x01\x11\x00\xff\xd9"
SHORT = Finding("lower bound of strength", 3.6, 4.0, "MPa", met=False)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Bench, str, str]]:
    """The pages, and the session of the engineer."""
    hours = {"at_ms": NOW - HOUR_MS, "batched_ms": T0, "placed_ms": T0 + HOUR_MS // 2}
    odd = {"number": "48113", "mix": "c25", "who": "crew", "water_l": 40.0, "temperature_c": 14.5, **hours}
    memory = {"tickets": [odd], "covers": [[T0, None]], "heated": [[T0, T0 + HOUR_MS, 10.0]]}
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        bench = bench_of(book)
        held = Hold(HoldKind.TICKET, NOW, "qc", "the ticket 48113 says c25, c32-f was entered", "test it")
        found = row(BAY, {STRIP: GateState.DONE}, holds=(held,))
        bench.board.rows = [replace(found, state=replace(found.state, memory=memory)), row(OTHER)]
        case = make_case()
        bench.board.cases = {POUR: replace(case, state=replace(case.state, memory=memory))}
        at = instant(NOW - HOUR_MS)
        bench.board.done = [MoveSet(at=at, who="crew", form_set="set-a", bay=BAY, waits=OTHER)]
        bench.previewed = (Previewed(BAY, POUR, GateState.RELEASED, GateState.WITHDRAWN, False, (SHORT,)),)
        bench.account(Role.ENGINEER)
        with served(bench.app()) as address:
            yield bench, address, door.begin_session(bench.people, "engineer", bench.clock.now())


def cookie(address: str, session: str) -> list[dict[str, str]]:
    return [{"name": "slabhour_session", "value": session, "url": address}]


def test_the_pages_are_accessible_at_every_width(site: tuple[Bench, str, str], browser: Browser) -> None:
    _, address, session = site
    paths = {"tickets": f"/tickets/{BAY}", "sets": "/sets", "requirements": "/requirements?operation=strip"}
    with tab(browser, address) as made:
        made.page.context.add_cookies(cookie(address, session))  # type: ignore[arg-type]
        for name, path in paths.items():
            made.page.goto(f"{address}{path}")
            if name == "requirements":
                made.page.get_by_label("Document and reason").fill("drawing S-12")
                made.page.get_by_role("button", name="Show what it changes").click()
                expect(made.page.get_by_role("button", name="Sign this requirement")).to_be_visible()
            for details in made.page.locator("details").all():
                details.evaluate("one => one.open = true")
            for width in WIDTHS:
                made.page.set_viewport_size({"width": width, "height": 844})
                keep_picture(made, f"{name}-{width}")
                assert made.faults() == {}, (name, width)


def test_a_day_of_taps_works_without_script(site: tuple[Bench, str, str], browser: Browser, tmp_path: Path) -> None:
    bench, address, session = site
    (tmp_path / "ticket.jpg").write_bytes(PICTURE)
    with tab(browser, address, 390, java_script_enabled=False) as made:
        made.page.context.add_cookies(cookie(address, session))  # type: ignore[arg-type]
        page = made.page
        page.goto(f"{address}/bay/{BAY}")
        page.get_by_role("button", name="Cover is taken off").click()
        page.get_by_role("link", name="Tickets").click()
        page.get_by_label("Number of the ticket").fill("48114")
        page.get_by_label("Batched at").fill("17:10")
        page.get_by_label("Picture of the ticket").set_input_files(tmp_path / "ticket.jpg")
        page.get_by_role("button", name="Enter this ticket").click()
        expect(page.get_by_role("heading", level=1)).to_have_text(f"Tickets, bay {BAY}")
        page.get_by_role("link", name="Form sets").click()
        page.get_by_label("To", exact=True).select_option(OTHER)
        page.get_by_role("button", name="Enter this move").click()
        page.get_by_role("link", name="Requirements").click()
        page.get_by_role("link", name="Change Strip").click()
        page.get_by_label("Document and reason").fill("drawing S-12")
        page.get_by_role("button", name="Show what it changes").click()
        page.get_by_label("Code").fill(bench.code())
        page.get_by_role("button", name="Sign this requirement").click()
        expect(page.get_by_role("status")).to_have_text("Strip: the new requirement is in force.")
    cover, ticket, move, require = bench.acts
    assert isinstance(cover, Cover)
    assert isinstance(ticket, Ticket)
    assert isinstance(move, MoveSet)
    assert isinstance(require, Require)
    assert (cover.on, move.form_set, move.bay, require.why) == (False, "set-a", OTHER, "drawing S-12")
    assert bench.photos.kept == {ticket.photo: PICTURE}
