"""Every page there is, by the keyboard alone, in colours that are not ours, and on paper: none is left out."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass, replace
from shutil import which
from typing import Final

import pytest
from beside_support import SCORED
from browser_support import WIDTHS, Tab, keep_picture, tab
from ledger_support import lost_hours
from mixes_support import mix_bench
from pages_support import NOW, Bench, served
from playwright.sync_api import Browser, Page
from scores_support import scored
from store_support import opened_book
from told_support import number_of, show, stopped_story

from cure.dashboard import door
from cure.dashboard.message_pages import AT_ONCE
from cure.dashboard.rules import API, FRAGMENTS, RULES
from shared.models.messages import MessageKind
from shared.models.people import Role

FILES: Final = (".pdf", ".csv", ".xlsx", ".parquet", ".ics")
NO_PAGES: Final = FRAGMENTS | {"/metrics", "/static/{name}", "/photo/{digest}"}
ROUTES: Final = tuple(
    route
    for method, route in RULES
    if method == "GET" and route not in NO_PAGES and not route.startswith(API) and not route.endswith(FILES)
)
QUERIES: Final = {
    "/plan": "?bay=2-b1&start=2025-11-27T08:00&operation=strip&cement=I&pour_h=2&placing_c=18&binder_kg=360"
    "&water_binder=0.5&low_c=10&high_c=18&wind_m_s=3&cover_r=0",
    "/requirements": "?operation=strip",
    "/logger/{logger}": f"?held=lg-01.1&since={NOW - 60_000}",
}
"""What is asked of a page that shows more then."""
STRANGERS: Final = frozenset({"/sign-in", "/welcome/{token}", "/device/{token}"})
WATCH: Final = """() => {
  window.passed = [];
  addEventListener('focusin', e => {
    const s = getComputedStyle(e.target);
    const ring = s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2;
    window.passed.push([e.target, ring]);
  });
}"""
STOPS: Final = """() => [...document.querySelectorAll('a[href],button,input,select,textarea,summary,[tabindex="0"]')]
  .filter(e => e.checkVisibility() && !e.disabled && e.tabIndex >= 0 && e.type !== 'hidden')"""
MISSED: Final = f"""within => {{
  const passed = new Set(window.passed.map(p => p[0]));
  const group = e => e.type === 'radio' && [...passed].some(p => p.type === 'radio' && p.name === e.name);
  return ({STOPS})().filter(e => e.closest(within) && !passed.has(e) && !group(e)).map(e => e.outerHTML.slice(0, 90));
}}"""
UNMARKED: Final = "() => window.passed.filter(p => !p[1]).map(p => p[0].outerHTML.slice(0, 90))"
UNSEEN: Final = """() => {
  const light = colour => {
    const [r, g, b, a] = colour.match(/[\\d.]+/g).map(Number);
    const [x, y, z] = [r, g, b].map(v => v / 255).map(v => v <= .04045 ? v / 12.92 : ((v + .055) / 1.055) ** 2.4);
    return a === 0 ? null : .2126 * x + .7152 * y + .0722 * z;
  };
  const sheet = document.body.appendChild(document.createElement('i'));
  sheet.style.cssText = 'forced-color-adjust:none;color:Canvas';
  const paper = light(getComputedStyle(sheet).color);
  sheet.remove();
  if (paper > .1) return ['the paper is not dark'];
  const stands = colour => {
    if (!colour.startsWith('rgb')) return false;
    const ink = light(colour);
    return ink !== null && (Math.max(ink, paper) + .05) / (Math.min(ink, paper) + .05) >= 3;
  };
  return [...document.querySelectorAll('svg')].filter(e => e.checkVisibility())
    .filter(svg => ![...svg.querySelectorAll('path,circle,rect,line,polyline,polygon,ellipse,text')]
      .some(e => (s => stands(s.stroke) || stands(s.fill))(getComputedStyle(e))))
    .map(e => e.parentElement.outerHTML.slice(0, 120));
}"""


@dataclass(frozen=True)
class Site:
    bench: Bench
    address: str
    tab: Tab
    sessions: dict[Role, str]

    def path(self, route: str) -> str:
        """Return the address of a page that has something to show."""
        of = {
            "bay": "2-b1",
            "mix": "c32-f",
            "logger": "lg-01",
            "no": str(number_of(self.bench, MessageKind.WITHDRAWAL)),
        }
        if route == "/r/{no}":
            of["no"] = str(number_of(self.bench, MessageKind.RELEASED))
        if route == "/welcome/{token}":
            of["token"] = door.invite(self.bench.people, "super", None, "admin", NOW)
        if route == "/device/{token}":
            of["token"] = door.add_device(self.bench.people, "hut", "qc", NOW)
        return f"{self.address}{route.format(**of)}{QUERIES.get(route, '')}"

    def open(self, route: str) -> Tab:
        """Open a page as somebody who may."""
        context = self.tab.page.context
        context.clear_cookies()
        if route not in STRANGERS:
            session = self.sessions[Role.ADMIN if route == "/people" else Role.ENGINEER]
            context.add_cookies([{"name": "slabhour_session", "value": session, "url": self.address}])
        self.tab.wrong.clear()
        self.tab.page.goto(self.path(route))
        return self.tab


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, browser: Browser) -> Iterator[Site]:
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        bench = mix_bench(book)
        mixes = bench.board.known_mixes
        lost_hours(bench)
        show(bench, stopped_story())
        bench.board.known_mixes = mixes
        SCORED.extend(scored(n, 4.5, mix="c32-f") for n in range(34))
        sessions = {}
        for role in (Role.ENGINEER, Role.ADMIN):
            bench.account(role)
            sessions[role] = door.begin_session(bench.people, role.value, bench.clock.now())
        with served(bench.app()) as address, tab(browser, address) as made:
            yield Site(bench, address, made, sessions)
        SCORED.clear()


def by_keyboard(page: Page, route: str) -> dict[str, list[str]]:
    """Go through a page by the skip link; return what the keyboard misses, and what it passes without a mark."""
    page.evaluate("[...document.querySelectorAll('details')].forEach(e => e.open = true)")
    page.evaluate(WATCH)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    # The bar above and the links below are the same everywhere: they are walked once.
    everything = "html" if route == "/" else "main"
    if route != "/":
        page.keyboard.press("Enter")
    missed: list[str] = page.evaluate(MISSED, everything)
    for _ in range(20):
        if not missed:
            break
        for _ in missed:
            page.keyboard.press("Tab")
        missed = page.evaluate(MISSED, everything)
    return {"missed": missed, "unmarked": page.evaluate(UNMARKED)}


@pytest.mark.parametrize("route", ROUTES)
def test_a_page_is_walked_by_the_keyboard_read_in_other_colours_and_printed_on_one_sheet(
    site: Site, route: str
) -> None:
    made = site.open(route)
    page = made.page
    found: dict[str, object] = {**by_keyboard(page, route)}
    page.emulate_media(forced_colors="active", color_scheme="dark")
    keep_picture(made, f"forced{route.replace('/', '-')}")
    found["unseen"] = page.evaluate(UNSEEN)
    page.emulate_media(forced_colors="none", color_scheme="light")
    found["sheets"] = sheets(page)[1:]
    page.set_viewport_size({"width": WIDTHS[0], "height": 844})
    found["cut"], found["said"] = made.cut(), made.wrong
    page.set_viewport_size({"width": WIDTHS[-1], "height": 844})
    assert {name: what for name, what in found.items() if what} == {}


def sheets(page: Page) -> list[str]:
    """Print a page; return a sheet of it each, as text where there are tools that read it."""
    printed = page.pdf(format="A4")
    count = len(re.findall(rb"/Type\s*/Page\b", printed))
    if count == 1 or which("pdftotext") is None:
        return [""] * count
    ran = subprocess.run(["pdftotext", "-layout", "-", "-"], input=printed, capture_output=True, check=True, timeout=60)
    return ran.stdout.decode().split("\f")[:count]


@pytest.mark.parametrize("language", ["fr", "es"])
def test_help_is_one_sheet_in_every_language(site: Site, language: str) -> None:
    made = site.open("/help")
    made.page.context.add_cookies([{"name": "slabhour_language", "value": language, "url": site.address}])
    made.page.reload()
    assert len(sheets(made.page)) == 1


def test_a_list_that_is_long_by_nature_has_its_head_on_every_sheet_and_no_line_in_two(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    board = site.bench.board
    many = [replace(m, no=1000 + k) for k, m in enumerate([*board.said] * 20)][-AT_ONCE - 1 :]
    sent = [replace(d, no=100 * m.no + n, message=m.no) for m in many for n, d in enumerate(board.sent[:2])]
    monkeypatch.setattr(board, "said", many)
    monkeypatch.setattr(board, "sent", sent)
    made = site.open("/messages")
    count = made.page.locator(".messages>li").count()
    assert count >= AT_ONCE
    found = sheets(made.page)
    assert 1 < len(found) <= 6
    if found[0]:
        assert [text.count("Millrace House ·") >= 1 for text in found] == [True] * len(found)
        # The hour of each message stands on the sheet of its subject.
        lines = [line for text in found for line in text.splitlines() if "check code" in line.lower()]
        assert len(lines) == count
