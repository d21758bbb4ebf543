"""A site of two bays in simulated time, its pages served, and what a person does there by the names on them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import pyotp
from browser_support import WIDTHS, Tab, keep_picture
from deploy_support import START_MS
from pages_support import PASSWORD, served
from playwright.sync_api import Page, expect

from alerts.transport import RecordingTransport
from cure.dashboard.app import not_found, pages
from deploy.page_parts import page_parts
from deploy.web import application
from deploy.wiring import Service, build
from ingest.message import Incoming
from shared.clock import SimulatedClock
from shared.models.base import HOUR_MS, MINUTE_MS, Ms
from shared.sitefile import load

SITE: Final = """\
[site]
id = "yard"
name = "Test Yard"
zone = "America/Halifax"
clock_sync = "not-checked"
shift = "00:00-23:59"
[plan]
use = "common-practice"
adopted_by = "engineer of record"
document = "release-criteria.pdf"
sign_offs = 1
[broker]
kind = "embedded"
[web]
port = 0
[[mix]]
id = "c32-f"
supplementary = false
[[bay]]
id = "1-b1"
floor = "1"
mix = "c32-f"
thickness_mm = 100
joist_spacing_mm = 1220
exclusions = "none"
construction_load_kpa = 1.0
sensors = [
  { id = "lg-01.1", zone = "exposed edge", depth_mm = 50 },
  { id = "lg-01.2", zone = "last-placed end", depth_mm = 50 }, { id = "lg-01.3", zone = "air" },
]
[[bay]]
id = "1-b2"
floor = "1"
mix = "c32-f"
thickness_mm = 100
joist_spacing_mm = 1220
exclusions = "stair opening"
construction_load_kpa = 1.0
sensors = [{ id = "lg-02.1", zone = "exposed edge", depth_mm = 50 }, { id = "lg-02.3", zone = "air" }]
[[recipient]]
id = "super"
role = "superintendent"
channels = [{ kind = "inbox" }]
[[recipient]]
id = "qc"
role = "qc"
channels = [{ kind = "inbox" }]
[[recipient]]
id = "engineer"
role = "engineer"
channels = [{ kind = "inbox" }]
"""


@dataclass
class Yard:
    """The site at work, and a window for each person."""

    service: Service
    clock: SimulatedClock
    address: str
    secrets: dict[str, str] = field(default_factory=dict)

    def turn(self, later_ms: int = 0) -> None:
        """Let time pass and what is due be done: rounds, then messages."""
        self.clock.set(self.clock.now() + later_ms)
        self.service.rounds.run_due()
        self.service.dispatcher.run_due()

    def tells(self) -> None:
        """Let what was done be judged and told: what turns within a minute goes out together."""
        for later_ms in (0, 61_000, 61_000):
            self.turn(later_ms)

    def code(self, person: str) -> str:
        """Return the next code of a person's authenticator: each counts once."""
        self.clock.set(self.clock.now() + 30_000)
        return pyotp.TOTP(self.secrets[person]).at(self.clock.now() // 1000)

    def heard(self, logger: str, celsius: dict[str, float], from_ms: Ms, to_ms: Ms) -> None:
        """Let a logger send what it measured, every 15 minutes a message of its channels."""
        for at_ms in range(from_ms, to_ms + 1, 15 * MINUTE_MS):
            pack = [{"bn": f"{logger}.", "bt": at_ms / 1000, "bu": "Cel"}]
            pack += [{"n": channel, "v": value} for channel, value in celsius.items()]
            topic, body = f"slabhour/yard/r/{logger}", json.dumps(pack).encode()
            self.service.intake.take([Incoming(topic, body, at_ms + 1000)])

    def cures(self, hours: float) -> None:
        """Let the slabs cure for so long, their loggers sending."""
        # Not from this minute on: one that was in a hand just now has sent for it already.
        began, until = self.clock.now() + 15 * MINUTE_MS, self.clock.now() + round(hours * HOUR_MS)
        self.clock.set(until)
        for logger, read in {"lg-01": {"1": 17.5, "2": 18.25, "3": 12.0}, "lg-02": {"1": 17.25, "3": 12.0}}.items():
            self.heard(logger, read, began, until)
        self.heard("lg-03", {"1": 17.75}, began, until)
        self.clock.set(until + 2_000)
        self.tells()

    def joins(self, page: Page, link: str, person: str, name: str | None = None) -> None:
        """Make an account by a one-time link."""
        page.goto(link)
        self.secrets[person] = page.locator("code").inner_text()
        if name is not None:
            page.get_by_label("Name").fill(name)
        page.get_by_label("Password, at least").fill(PASSWORD)
        page.get_by_label("Password again").fill(PASSWORD)
        page.get_by_label("Code").fill(self.code(person))
        page.get_by_role("button", name="Make account").click()
        expect(page.get_by_role("contentinfo")).to_contain_text(f"Signed in: {person}")

    def signs_in(self, page: Page, person: str) -> None:
        """Sign in with name and password, from whatever page asks for it."""
        page.goto(self.address)
        page.get_by_label("Name").fill(person)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        expect(page.get_by_role("contentinfo")).to_contain_text(f"Signed in: {person}")


@contextmanager
def opened_yard(folder: Path) -> Iterator[Yard]:
    """Lend the site, served on a free port."""
    path, clock = folder / "site.toml", SimulatedClock(START_MS)
    path.write_text(SITE, encoding="utf-8")
    with ExitStack() as stack:
        service = stack.enter_context(build(load(path), clock=clock, transport=RecordingTransport()))
        parts = page_parts(service, service.apply, demo=False)
        address = stack.enter_context(served(application([pages(parts)], not_found(parts))))
        yield Yard(service, clock, address)


def go(page: Page, *links: str) -> None:
    """Follow links by the names that stand on them."""
    for name in links:
        page.get_by_role("link", name=name, exact=True).first.click()


def press(page: Page, button: str) -> None:
    page.get_by_role("button", name=button, exact=True).click()


def look(made: Tab, name: str) -> None:
    """Look at a page as it stands: nothing cut, nothing too small, nothing that AA forbids, on paper or phone."""
    width = made.page.viewport_size
    for wide in WIDTHS:
        made.page.set_viewport_size({"width": wide, "height": 844})
        keep_picture(made, f"stranger-{name}-{wide}")
        found = made.faults() if wide == WIDTHS[0] else {"cut": made.cut(), "small": made.small()}
        assert not any(found.values()), (name, wide, found)
    assert width is not None
    made.page.set_viewport_size(width)
