from __future__ import annotations

import html
import re

from pages_support import Bench, Browser

from shared.models.people import Role


def add(bench: Bench, browser: Browser, name: str = "hut") -> str:
    text = html.unescape(browser.post("/devices/add", {"csrf": bench.csrf(browser), "name": name}).text)
    found = re.search(r"http://site\.test(/device/[\w-]+)", text)
    assert found, text
    return found[1]


def test_a_screen_reads_after_its_code_was_scanned_and_a_button_pressed(bench: Bench) -> None:
    link, screen = add(bench, bench.signed_in(Role.QC)), bench.browser()
    assert "will read the pages of Millrace House" in screen.get(link).text
    assert screen.get("/").status_code == 303, "to look at the link changes nothing"
    assert screen.post(link).status_code == 303
    text = screen.get("/").text
    assert "Where each bay stands" in text
    assert "reads only" in text


def test_a_screen_does_nothing(bench: Bench) -> None:
    link, screen = add(bench, bench.signed_in(Role.QC)), bench.browser()
    screen.post(link)
    assert screen.post("/devices/add", {"name": "another"}).status_code == 303
    assert len(bench.people.devices()) == 1


def test_a_screen_whose_key_is_ended_is_blind_at_once(bench: Bench) -> None:
    qc = bench.signed_in(Role.QC)
    link, screen = add(bench, qc), bench.browser()
    screen.post(link)
    qc.post("/devices/end", {"csrf": bench.csrf(qc), "no": "1"})
    assert screen.get("/").status_code == 303
    assert screen.get(link).status_code == 410
    assert screen.post(link).status_code == 410


def test_a_screen_needs_a_name(bench: Bench) -> None:
    qc = bench.signed_in(Role.QC)
    for name in ("", " ", "x" * 61):
        assert qc.post("/devices/add", {"csrf": bench.csrf(qc), "name": name}).status_code == 422
    assert qc.post("/devices/end", {"csrf": bench.csrf(qc), "no": "none"}).status_code == 303
    assert bench.people.devices() == []
