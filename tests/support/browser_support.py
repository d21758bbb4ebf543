"""Debian's Chromium over the pages: what it asked for, what it complained of, what it shows."""

from __future__ import annotations

import importlib.resources
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from shutil import which
from typing import Any, Final

from playwright.sync_api import Browser as Chromium
from playwright.sync_api import Page, sync_playwright

CHROMIUM: Final = os.environ.get("CHROMIUM") or which("chromium")
# The bubbles below its line of addresses, which nobody sees: two pages more for each window that is opened, and to make
# them takes longer than to show one of ours.
_BUBBLES: Final = ("WebUIOmniboxPopup", "WebUIOmniboxAimPopup")
# What playwright switches off itself (1.65.2): a second list takes the place of the first.
_SWITCHED_OFF: Final = (
    *("AvoidUnnecessaryBeforeUnloadCheckSync", "DestroyProfileOnBrowserClose", "HttpsUpgrades", "LensOverlay"),
    *("HttpsFirstBalancedModeAutoEnable", "MediaRouter", "PaintHolding", "ThirdPartyStoragePartitioning"),
    *("AvoidCorsURLLoaderRestartOnRedirect", "TcpPortRandomizationWin", "OptimizationHints", "AimEnabled"),
    *("NetworkTimeServiceQuerying", "PreconnectToSearch"),
)
ARGUMENTS: Final = (
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
    f"--disable-features={','.join((*_SWITCHED_OFF, *_BUBBLES))}",
)
WIDTHS: Final = (320, 390, 1000)
RULES: Final = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa")
SMALLEST_PX: Final = 44
_CUT: Final = """[...document.querySelectorAll('td,th,dd,li,button,p')]
  .filter(e => e.scrollWidth > e.clientWidth + 1 && e.getClientRects().length)
  .map(e => e.innerText.slice(0, 60))"""
_SMALL: Final = """(least) => [...document.querySelectorAll('a,button,summary,select,input:not([type=hidden])')]
  .filter(e => !e.classList.contains('skip') && e.type !== 'checkbox')
  .filter(e => (r => r.height && r.height < least)(e.getBoundingClientRect())).map(e => e.outerHTML.slice(0, 80))"""


@cache
def _axe() -> str:
    return (importlib.resources.files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")


@contextmanager
def chromium() -> Iterator[Chromium]:
    """Lend a browser."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(ARGUMENTS))
        try:
            yield browser
        finally:
            browser.close()


@dataclass
class Tab:
    """One page in a window of its own."""

    page: Page
    wrong: list[str] = field(default_factory=list)
    """What it complained of, and whatever it asked somebody else for."""
    bytes: int = 0
    """As they came over the wire."""

    def axe(self) -> list[Any]:
        """Return what breaks WCAG 2.2 AA, each with its places."""
        if not self.page.evaluate("'axe' in window"):
            self.page.evaluate(_axe())
        # What passes is not listed: that list is many times as long as the page.
        run = "rules => axe.run(document, {runOnly: rules, resultTypes: ['violations']}).then(r => r.violations)"
        found = self.page.evaluate(run, list(RULES))
        return [(v["id"], [n["html"][:90] for n in v["nodes"]]) for v in found]

    def cut(self) -> list[str]:
        """Return what runs out of its cell, and the page's own overflow."""
        found: list[str] = self.page.evaluate(_CUT)
        wide = not self.page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        return found + (["the page itself"] if wide else [])

    def small(self) -> list[str]:
        """Return what a gloved finger misses."""
        found: list[str] = self.page.evaluate(_SMALL, SMALLEST_PX)
        return found

    def faults(self) -> dict[str, list[Any]]:
        """Return everything that a page must not have."""
        found = {"axe": self.axe(), "cut": self.cut(), "small": self.small(), "said": self.wrong}
        return {name: what for name, what in found.items() if what}


@contextmanager
def tab(browser: Chromium, address: str, width: int = 1000, height: int = 844, **options: Any) -> Iterator[Tab]:
    """Lend a window that watches what its page asks for."""
    context = browser.new_context(viewport={"width": width, "height": height}, **options)
    try:
        made = Tab(context.new_page())
        made.page.set_default_timeout(15_000)
        made.page.on("console", lambda m: made.wrong.append(m.text) if m.type in {"error", "warning"} else None)
        made.page.on("pageerror", lambda error: made.wrong.append(str(error)))
        made.page.on("request", lambda r: None if r.url.startswith(address) else made.wrong.append(f"asked {r.url}"))
        cdp = context.new_cdp_session(made.page)
        cdp.send("Network.enable")
        cdp.on("Network.loadingFinished", lambda e: setattr(made, "bytes", made.bytes + round(e["encodedDataLength"])))
        yield made
    finally:
        context.close()


def keep_picture(made: Tab, name: str) -> None:
    """Keep a picture of a page where the environment says, outside the checkout; else nowhere."""
    folder = os.environ.get("PICTURES")
    if folder:
        Path(folder).mkdir(parents=True, exist_ok=True)
        made.page.screenshot(path=str(Path(folder, f"{name}.png")), full_page=True)
