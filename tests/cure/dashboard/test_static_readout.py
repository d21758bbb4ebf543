"""The readout in Debian's Chromium, on a page that allows nothing but its own files."""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib.resources import files
from typing import Final

import numpy as np
import pytest
from browser_support import CHROMIUM, chromium
from charts_support import cold_pour
from playwright.sync_api import Page
from store_support import make_calibration

from cure.dashboard.calibration_chart import calibrated, calibration_chart
from cure.dashboard.charts import strength_chart, temperature_chart
from cure.dashboard.ink import SIZES
from cure.dashboard.pour_view import PourView
from cure.dashboard.svgchart import both
from shared.models.base import HOUR_MS

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="Debian's chromium is not installed")
POLICY: Final = "default-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'self'"
KINDS: Final = {"/charts.css": "text/css", "/readout.js": "text/javascript"}


def body(view: PourView) -> str:
    window = view.window()
    charts = [
        strength_chart(view.strength(window), window),
        temperature_chart(view.temperature(window), window),
        calibration_chart(calibrated(make_calibration())),
    ]
    return "".join(both(chart, SIZES) for chart in charts)


def page_text(view: PourView) -> str:
    return (
        '<!doctype html><html lang="en"><meta charset="utf-8"><title>Bay</title>'
        '<meta name="viewport" content="width=device-width"><link rel="icon" href="/charts.css">'
        '<link rel="stylesheet" href="/charts.css"><script src="/readout.js" defer></script>'
        f'<body><main>{body(view)}</main><p data-readout aria-live="polite">Slide over a chart.</p></body></html>'
    )


class Handler(BaseHTTPRequestHandler):
    page = ""

    def do_GET(self) -> None:
        static = files("cure.dashboard").joinpath("static")
        kind = KINDS.get(self.path)
        text = self.page if kind is None else static.joinpath(self.path[1:]).read_text(encoding="utf-8")
        self.send_response(200)
        self.send_header("Content-Type", f"{kind or 'text/html'}; charset=utf-8")
        self.send_header("Content-Security-Policy", POLICY)
        self.end_headers()
        self.wfile.write(text.encode())

    def log_message(self, *_: object) -> None:
        pass


@pytest.fixture(scope="module")
def view() -> PourView:
    return cold_pour()


@pytest.fixture(scope="module")
def address(view: PourView) -> Iterator[str]:
    Handler.page = page_text(view)
    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield f"http://127.0.0.1:{server.server_address[1]}/"
        server.shutdown()
        thread.join()


@pytest.fixture(scope="module", params=[(1000, 900), (390, 844)], ids=["desk", "phone"])
def page(request: pytest.FixtureRequest, address: str) -> Iterator[Page]:
    with chromium() as browser:
        width, height = request.param
        opened = browser.new_page(viewport={"width": width, "height": height})
        complaints: list[str] = []
        opened.on("console", lambda message: complaints.append(message.text))
        opened.on("pageerror", lambda error: complaints.append(str(error)))
        opened.goto(address)
        yield opened
        assert complaints == []


def said(page: Page) -> str:
    # One frame is drawn after the event, and one more has passed then.
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    return page.inner_text("[data-readout]")


def crosses(page: Page) -> list[bool]:
    found = page.eval_on_selector_all(
        "svg.chart",
        "all => all.filter(c => c.getClientRects().length).map(c => c.querySelector('.cross').getAttribute('d'))",
    )
    return [bool(d) for d in found]


def test_one_size_of_each_chart_is_shown(page: Page) -> None:
    assert len(crosses(page)) == 3


def test_a_pointer_reads_every_line_at_its_hour_and_a_crosshair_runs_through_the_charts_of_that_axis(
    page: Page, view: PourView
) -> None:
    box = page.locator("svg.chart[data-chart=strength]:visible").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 0.4 * box["width"], box["y"] + 0.5 * box["height"])
    text = said(page)
    for name in ("lower bound", "estimate", "lg-01.2 interior", "lg-09.1 air"):
        assert name in text
    assert re.match(r"\w{3}, \w+ \d+, \d\d:\d\d", text)
    assert crosses(page) == [True, True, False]


def test_the_value_read_is_the_one_that_was_drawn(page: Page, view: PourView) -> None:
    page.locator("svg.chart[data-chart=temperature]:visible").focus()
    page.keyboard.press("Home")
    for _ in range(2):
        page.keyboard.press("Shift+ArrowRight")
    found = re.search(r"lg-01\.2 interior (-?[\d.]+) °C", said(page))
    assert found is not None
    sensor = next(s for s in view.temperature(view.window()).sensors if s.name == "lg-01.2 interior")
    at_ms = view.window().from_ms + 48 * HOUR_MS
    # A tenth of a unit of the narrow picture is 0.02 degC, and one is read to a tenth of a degree.
    assert float(found[1]) == pytest.approx(float(np.interp(at_ms, sensor.taken_ms, sensor.celsius)), abs=0.15)


def test_in_a_hole_a_sensor_says_nothing(page: Page) -> None:
    page.locator("svg.chart[data-chart=temperature]:visible").focus()
    page.keyboard.press("Home")
    page.keyboard.press("Shift+ArrowRight")
    assert "lg-01.1 exposed edge" in said(page)
    for _ in range(50):
        page.keyboard.press("ArrowRight")
    # 36.5 h and more after the first concrete: between 30 and 36 h after the last the edge was not read.
    assert "lg-01.1 exposed edge" not in said(page)
    assert "lg-01.2 interior" in said(page)


def test_home_and_end_go_to_the_ends_and_a_logarithmic_axis_has_a_crosshair_of_its_own(page: Page) -> None:
    chart = page.locator("svg.chart[data-chart=calibration]:visible")
    chart.focus()
    page.keyboard.press("Home")
    first = said(page)
    assert crosses(page) == [False, False, True]
    page.keyboard.press("End")
    last = said(page)
    youngest, oldest = (float(text.split(" ")[0]) for text in (first, last))
    assert youngest < 8.0 < 700.0 < oldest
    assert "exponential" in last


def test_axe_finds_nothing_against_wcag_aa(page: Page) -> None:
    page.evaluate(files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8"))
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
    found = page.evaluate("tags => axe.run({runOnly: tags}).then(r => r.violations)", tags)
    assert [(v["id"], [n["html"][:120] for n in v["nodes"]]) for v in found] == []


def test_charts_that_come_later_can_be_read_too(page: Page) -> None:
    page.evaluate("() => { const m = document.querySelector('main'); m.innerHTML = m.innerHTML; }")
    page.locator("svg.chart[data-chart=strength]:visible").focus()
    page.keyboard.press("Home")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    assert "lg-01.2 interior" in said(page)
    assert crosses(page) == [True, True, False]
