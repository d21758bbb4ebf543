"""Labels to print, and that their codes lead to pages."""

from __future__ import annotations

import re

import pytest
from pages_support import Bench

from cure.dashboard.rendering import static_files
from deploy.labels import labels
from shared.models.people import Role


@pytest.mark.parametrize(("asked", "paper", "size"), [("", "a4", "A4"), ("?paper=Letter&bay=2-b1", "letter", "letter")])
def test_the_sheets_are_on_the_page_and_its_print_is_of_their_paper(
    bench: Bench, asked: str, paper: str, size: str
) -> None:
    text = bench.signed_in(Role.INSTALLER).get(f"/labels{asked}").text
    assert "BAY 2-b1" in text
    assert "http://site.test" in text
    [style] = re.findall(rf"/static/(labels-{paper}-[0-9a-f]+\.css)", text)
    assert f"@page{{size:{size};margin:0}}".encode() in static_files()[style].body


def test_labels_bear_the_address_of_the_site_file_and_one_that_only_this_machine_reaches_is_told(bench: Bench) -> None:
    kept, warned = bench.board.of_site, "a phone that scans such a label finds nothing"
    assert warned not in bench.signed_in(Role.CREW).get("/labels").text
    at_home = bench.signed_in(Role.CREW, host="127.0.0.1:8080").get("/labels").text
    assert ("http://127.0.0.1:8080" in at_home, warned in at_home) == (True, True)
    web = kept.web.model_copy(update={"address": "https://pages.example:8443"})
    bench.board.of_site = kept.model_copy(update={"web": web})
    told = bench.signed_in(Role.CREW, host="127.0.0.1:8080").get("/labels").text
    assert ("https://pages.example:8443" in told, "127.0.0.1" in told, warned in told) == (True, False, False)
    bench.board.of_site = kept


def test_where_a_label_leads_there_is_a_page(bench: Bench) -> None:
    browser = bench.signed_in(Role.CREW)
    for label in labels(bench.board.of_site.bay, bench.look("p").case.placements, "http://site.test"):  # type: ignore[arg-type]
        assert browser.get(label.code.removeprefix("http://site.test")).status_code == 200
    # Who has not signed in sees STOP at a bay, and comes back to the logger after the sign-in.
    stranger = bench.browser()
    assert "/stop/2-b1" in stranger.get("/bay/2-b1").text
    assert stranger.get("/logger/lg-01").headers["Location"] == "/sign-in?next=/logger/lg-01"
