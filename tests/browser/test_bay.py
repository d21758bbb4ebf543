"""A bay as people get it, and what they do there: taps, pour start and end, signatures, STOP."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import pytest
from browser_support import WIDTHS, keep_picture, tab
from pages_support import NOW, OTHER, Bench, bench_of, row, served
from playwright.sync_api import Browser, expect
from store_support import BAY, opened_book

from cure.accounts import BEFORE
from shared.models.acts import PourEnd, PourStart, Sign, Stop, UnderWay
from shared.models.base import LOAD, STRIP, WALK, SensorId
from shared.models.decisions import GateState, Hold, HoldKind, Placement, Verdict
from shared.models.estimate import KeptReadings, SensorAccount
from shared.models.setup import Zone

S = GateState
SAID = "lg-01.1 (exposed edge) goes up and down faster than concrete can"
HELD = row(
    BAY,
    {STRIP: S.WITHDRAWN, WALK: S.HOLD, LOAD: S.NOT_SET_UP},
    holds=(
        Hold(HoldKind.SENSOR_DOUBTFUL, NOW, "qc", SAID, "look at the loggers of this bay and its neighbours"),
        Hold(HoldKind.FREEZE_SUSPECTED, NOW, "superintendent", "concrete at 2.5 degC", "measure its surface"),
    ),
    reason="STOP pressed",
    verdicts=(Verdict(LOAD, ("a calibration of mix c32-f that is fit for release",), met=False, findings=()),),
)
MET = {STRIP: S.MET, WALK: S.MET}


@dataclass(frozen=True)
class Site:
    bench: Bench
    address: str


@pytest.fixture(scope="module")
def served_site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        bench = bench_of(book, demo=True)
        with served(bench.app()) as address:
            yield Site(bench, address)


@pytest.fixture
def site(served_site: Site) -> Site:
    served_site.bench.board.rows = [row(BAY, {STRIP: S.RELEASED, WALK: S.MET}), row(OTHER, MET)]
    served_site.bench.acts.clear()
    return served_site


@pytest.mark.parametrize("path", ["/bay/2-b1", "/pour/2-b1", "/sign", "/stop/2-b1", "/holds/2-b1"])
def test_the_pages_of_a_bay_are_accessible(site: Site, browser: Browser, path: str) -> None:
    if path in {"/bay/2-b1", "/holds/2-b1"}:
        site.bench.board.rows = [HELD]
    with tab(browser, site.address) as made:
        made.page.goto(f"{site.address}{path}")
        for width in WIDTHS:
            made.page.set_viewport_size({"width": width, "height": 844})
            keep_picture(made, f"{path.split('/')[1]}-{width}")
            assert made.faults() == {}, width
        assert made.bytes <= 20_000


def test_strip_and_walk_of_two_bays_are_signed_without_script(site: Site, browser: Browser) -> None:
    with tab(browser, site.address, 390, java_script_enabled=False) as made:
        made.page.goto(f"{site.address}/sign")
        made.page.get_by_label("I have read the findings").check()
        made.page.get_by_role("button", name="Sign what is ticked").click()
        expect(made.page.get_by_role("alert").last).to_contain_text("Tick both sentences.")
        made.page.get_by_label("I have read the findings").check()
        made.page.get_by_label("What is ticked goes ahead").check()
        made.page.get_by_role("button", name="Sign what is ticked").click()
        expect(made.page.get_by_role("status").first).to_contain_text("Signed: 2-b1: Walk.")
    signed = [(a.pour, a.operations) for a in site.bench.acts if isinstance(a, Sign)]
    assert signed == [("2-b1-p1", ("walk",)), ("2-b2-p1", ("strip", "walk"))]


def test_a_crew_taps_with_the_keyboard_alone(site: Site, browser: Browser) -> None:
    with tab(browser, site.address) as made:
        made.page.goto(f"{site.address}/bay/2-b1")
        for _ in range(12):
            made.page.keyboard.press("Tab")
            if "Under way" in made.page.evaluate("document.activeElement.innerText"):
                break
        with made.page.expect_navigation():
            made.page.keyboard.press("Enter")
        assert [type(a) for a in site.bench.acts] == [UnderWay]


def test_a_pour_is_started_earlier_and_ended_now(site: Site, browser: Browser) -> None:
    site.bench.board.rows = []
    with tab(browser, site.address, 390) as made:
        made.page.goto(f"{site.address}/bay/2-b1")
        made.page.get_by_role("link", name="Pour start or end").click()
        made.page.get_by_label("It was earlier").fill("17:20")
        button = made.page.get_by_role("button", name="Pour start")
        box = button.bounding_box()
        assert box is not None
        assert box["height"] >= 80
        button.click()
        site.bench.board.rows = [row()]
        made.page.goto(f"{site.address}/pour/2-b1")
        made.page.get_by_role("button", name="Pour end").click()
        start, end = site.bench.acts
        assert isinstance(start, PourStart)
        assert isinstance(end, PourEnd)
        assert start.happened is not None
        assert f"{start.happened:%H:%M}" == "21:20"
        assert end.happened is None


def test_stop_is_two_presses(site: Site, browser: Browser) -> None:
    with tab(browser, site.address, 390) as made:
        made.page.goto(f"{site.address}/bay/2-b1")
        made.page.get_by_role("link", name="STOP").click()
        made.page.get_by_label("What have you seen?").fill("a crack at the stair")
        made.page.get_by_role("button", name="STOP: first press").click()
        assert site.bench.acts == []
        assert made.axe() == []
        made.page.get_by_role("button", name="STOP bay 2-b1").click()
        expect(made.page.get_by_role("status")).to_contain_text("Every gate of bay 2-b1 is shut")
        (act,) = site.bench.acts
        assert isinstance(act, Stop)
        assert act.why == "a crack at the stair"


def test_a_bay_s_page_follows_and_says_when_it_cannot(site: Site, browser: Browser) -> None:
    with tab(browser, site.address) as made:
        made.page.clock.install()
        made.page.goto(f"{site.address}/bay/2-b1")
        strip = made.page.get_by_role("region", name="Strip")
        expect(strip).to_contain_text("Released")
        site.bench.board.rows = [HELD]
        made.page.clock.run_for(16_000)
        expect(strip).to_contain_text("Keep forms on")
        made.page.context.set_offline(True)
        for _ in range(8):
            made.page.clock.run_for(5_000)
        expect(made.page.locator("#no-contact")).to_be_visible()


def test_a_bay_s_page_prints_on_one_sheet_with_what_became_of_each_sensors_readings(
    site: Site, browser: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    sensors = [SensorId(f"lg-0{n}.1") for n in range(1, 6)]
    kept = tuple(KeptReadings(why, 4, NOW, None) for why in (BEFORE, "spike", "clock"))
    found = row(BAY)
    assert found.state.estimate is not None
    told = replace(found.state.estimate, sensors=tuple(SensorAccount(s, 41, kept, {"clock": 2}) for s in sensors))
    found = replace(found, state=replace(found.state, estimate=told))
    monkeypatch.setattr(site.bench.board, "rows", [found])
    lie = [Placement(s, BAY, Zone.EXPOSED_EDGE, 50, 900, required=True, position="grid C4, 100 mm in") for s in sensors]
    monkeypatch.setattr(site.bench.board, "placed", lie)
    with tab(browser, site.address) as made:
        made.page.goto(f"{site.address}/bay/2-b1")
        expect(made.page.get_by_role("main")).to_contain_text("credited: 41 readings")
        made.page.set_viewport_size({"width": 390, "height": 800})
        keep_picture(made, "bay-sensors-390")
        assert made.page.pdf(format="A4").count(b"/Type /Page\n") == 1
