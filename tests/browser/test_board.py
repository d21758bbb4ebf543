"""The board as people get it: on a phone, on paper, without script, over a network that dies."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from browser_support import WIDTHS, keep_picture, tab
from pages_support import NOW, SITE, Bench, bench_of, row, served
from playwright.sync_api import Browser, Route, expect
from store_support import opened_book

from shared.models.base import HOUR_MS, LOAD, STRIP, WALK, BayId, Operation
from shared.models.decisions import Doubt, DoubtKind, GateState, Hold, HoldKind, Verdict
from shared.models.setup import BaySettings
from shared.ports import BoardRow

S = GateState
SAID = "lg-01.1 (exposed edge) goes up and down faster than concrete can"
HOLD = Hold(
    HoldKind.FREEZE_SUSPECTED, NOW, "qc", "lg-01.1 (exposed edge) goes up and down faster than concrete can", ""
)
MISSING = Verdict(LOAD, ("a calibration of mix c32-f that is fit for release",), met=False, findings=())
FLOORS = ("2", "3")
ROWS = (
    row(
        BayId("3-b6"),
        {STRIP: S.WITHDRAWN, WALK: S.HOLD, LOAD: S.NOT_SET_UP},
        holds=(HOLD,),
        reason="contradicted by the evidence: lower bound of strength",
        floor="3",
        verdicts=(MISSING,),
    ),
    row(BayId("3-b1"), {STRIP: S.SUSPENDED, WALK: S.SUSPENDED, LOAD: S.DONE_WITHOUT_RELEASE}, floor="3"),
    row(BayId("3-b4"), {STRIP: S.RELEASED, WALK: S.MET}, floor="3"),
    row(BayId("3-b2"), {STRIP: S.UNDER_WAY, WALK: S.RELEASED}, floor="3"),
    row(BayId("3-b5"), {STRIP: S.MET, WALK: S.MET}, floor="3", signers=("qc",)),
    row(BayId("2-b1"), {}, evidence_ms=NOW - 4 * HOUR_MS),
    row(BayId("2-b2"), dict.fromkeys((STRIP, WALK, LOAD), S.DONE)),
)


@dataclass(frozen=True)
class Site:
    bench: Bench
    address: str


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    bays = [b.model_copy(update={"floor": f}) for b, f in zip(SITE.bay, FLOORS, strict=True)]
    assert all(isinstance(b, BaySettings) for b in bays)
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        bench = bench_of(book, *ROWS, demo=True)
        bench.board.of_site = SITE.model_copy(update={"bay": tuple(bays)})
        with served(bench.app()) as address:
            yield Site(bench, address)


@pytest.mark.parametrize("language", ["en", "fr", "es"])
def test_the_board_is_accessible_and_no_word_is_cut(site: Site, browser: Browser, language: str) -> None:
    with tab(browser, site.address) as made:
        choice = {"name": "slabhour_language", "value": language, "url": site.address}
        made.page.context.add_cookies([choice])  # type: ignore[list-item]
        made.page.goto(site.address)
        made.page.locator("summary").click()
        for width in WIDTHS:
            made.page.set_viewport_size({"width": width, "height": 844})
            keep_picture(made, f"board-{language}-{width}")
            # What axe looks at is the same in every language; where words break is not.
            found = made.faults() if language == "en" else {"cut": made.cut(), "small": made.small()}
            assert not any(found.values()), (width, found)
        assert made.wrong == []


def test_colours_of_the_reader_s_own_lose_nothing(site: Site, browser: Browser) -> None:
    with tab(browser, site.address, 390, forced_colors="active") as made:
        made.page.goto(site.address)
        keep_picture(made, "board-forced-390")
        assert made.faults() == {}
        border = "getComputedStyle(document.querySelector('td.released')).borderTopWidth"
        assert made.page.evaluate(border) == "4px"


WORDS = {"strip": "Keep forms on", "walk": "Keep off", "load": "Keep load off"}


def generated(seed: int) -> list[BoardRow]:
    """Return a site of some bays whose gates stand anywhere."""
    chance = random.Random(seed)
    names = [BayId(f"2-b{n}") for n in range(chance.randint(1, 6))]
    return [
        row(
            bay,
            {op: chance.choice(list(S)) for op in (STRIP, WALK, LOAD)},
            reason="STOP pressed",
            stripping=(BayId("3-b1"),) if chance.random() < 0.2 else (),
        )
        for bay in names
    ]


def read_aloud(tree: str) -> dict[tuple[str, str], str]:
    """Return what a screen reader says of each answer, by bay and operation."""
    found: dict[tuple[str, str], str] = {}
    for block in re.split(r"- rowheader ", tree)[1:]:
        head = re.match(r'"?(\S+?)"? to ', block)
        cells = re.findall(r"- '?cell \"?([^\"\n]+)", block)
        if head and len(cells) >= 3:
            found |= {(head[1], op): said for op, said in zip(WORDS, cells, strict=False)}
    return found


def test_from_accessible_names_alone_one_reads_what_the_gates_say(site: Site, browser: Browser) -> None:
    before = site.bench.board.rows
    with tab(browser, site.address) as made:
        for seed in range(30):
            site.bench.board.rows = rows = generated(seed)
            made.page.goto(site.address)
            said = read_aloud(made.page.locator("table").aria_snapshot())
            assert len(said) == 3 * len(rows)
            near = {r.pour.bay for r in rows if r.stripping or r.gates[STRIP].state is S.UNDER_WAY}
            for (bay, op), words in said.items():
                state = next(r.gates[Operation(op)].state for r in rows if r.pour.bay == bay)
                kept_off = op != STRIP and bay in near
                assert words.startswith("Released") is (state is S.RELEASED and not kept_off), (seed, bay, op, words)
                shut = kept_off or state is S.WITHDRAWN
                assert words.startswith("Keep off" if kept_off else WORDS[op]) is shut, (seed, bay, op, words)
    site.bench.board.rows = before


def test_the_board_reads_whole_without_script(site: Site, browser: Browser) -> None:
    with tab(browser, site.address, 390, java_script_enabled=False) as made:
        made.page.goto(site.address)
        text = made.page.inner_text("body")
        assert "Page of Tue 25 Nov 2025 18:00 UTC\N{MINUS SIGN}04:00" in text
        assert "Keep forms on" in text
        made.page.get_by_role("link", name="Floor 3").click()
        assert "2-b1" not in made.page.inner_text("main")


def test_the_board_is_light_and_a_slow_phone_shows_it_soon(site: Site, browser: Browser) -> None:
    with tab(browser, site.address, 390) as made:
        slow = made.page.context.new_cdp_session(made.page)
        slow.send("Network.enable")
        down, up = 200_000, 90_000
        conditions = {"offline": False, "latency": 150, "downloadThroughput": down, "uploadThroughput": up}
        slow.send("Network.emulateNetworkConditions", conditions)
        slow.send("Emulation.setCPUThrottlingRate", {"rate": 4})
        made.page.goto(site.address, wait_until="networkidle")
        assert 2_000 < made.bytes <= 20_000
        paint = "performance.getEntriesByName('first-contentful-paint')[0].startTime"
        # The network may be idle before the first paint is written down.
        made.page.wait_for_function("performance.getEntriesByName('first-contentful-paint').length > 0")
        # 2.5 s is promised; a machine that tests other things meanwhile gets twice that.
        assert made.page.evaluate(paint) <= 5_000


def test_the_board_prints_on_one_sheet(site: Site, browser: Browser) -> None:
    with tab(browser, site.address) as made:
        made.page.goto(site.address)
        for paper in ("A4", "Letter"):
            assert len(re.findall(rb"/Type\s*/Page[^s]", made.page.pdf(format=paper))) == 1


def test_the_screen_in_the_hut_is_large_and_has_no_bar(site: Site, browser: Browser) -> None:
    with tab(browser, site.address, 1600) as made:
        made.page.goto(f"{site.address}/?big=1")
        keep_picture(made, "board-big-1600")
        assert made.faults() == {}
        assert made.page.get_by_role("navigation").count() == 0
        assert (
            made.page.evaluate("parseFloat(getComputedStyle(document.querySelector('.board .sign b')).fontSize)") >= 24
        )


def test_the_board_follows_what_happens_while_it_is_looked_at(site: Site, browser: Browser) -> None:
    with tab(browser, site.address) as made:
        made.page.clock.install()
        made.page.goto(site.address)
        site.bench.board.open_doubts = [Doubt(DoubtKind.LOG, NOW, "line 7 is not as it was written")]
        try:
            made.page.clock.run_for(16_000)
            expect(made.page.get_by_role("status")).to_contain_text("line 7 is not as it was written")
            assert made.page.locator("#no-contact").is_hidden()
        finally:
            site.bench.board.open_doubts = ()


def test_a_board_without_contact_says_so_loses_its_fills_and_heals(site: Site, browser: Browser) -> None:
    with tab(browser, site.address, 390) as made:
        made.page.clock.install()
        made.page.goto(site.address)
        made.page.context.set_offline(True)
        made.page.clock.run_for(34_000)
        assert made.page.locator("#no-contact").is_hidden()
        made.page.clock.run_for(3_000)
        bar = made.page.locator("#no-contact")
        expect(bar).to_have_text(
            "No contact with the site server. This page shows 18:00:00. Do not act on it until contact is back."
        )
        fill = "getComputedStyle(document.querySelector('td.released')).backgroundColor"
        assert made.page.evaluate(fill) == "rgba(0, 0, 0, 0)"
        assert made.axe() == []
        keep_picture(made, "board-stale-390")
        made.page.context.set_offline(False)
        made.page.clock.run_for(10_000)
        expect(bar).to_be_hidden()
        assert made.page.evaluate(fill) == "rgb(11, 58, 91)"


def test_a_network_that_holds_its_sockets_open_and_says_nothing_is_noticed(site: Site, browser: Browser) -> None:
    with tab(browser, site.address, 390) as made:
        made.page.clock.install()
        made.page.goto(site.address)
        held: list[Route] = []
        made.page.route("**/*", lambda route: held.extend([route]))
        for _ in range(8):
            made.page.clock.run_for(5_000)
        expect(made.page.locator("#no-contact")).to_be_visible()
        assert held
        made.page.unroute("**/*")
        for _ in range(6):
            made.page.clock.run_for(5_000)
        expect(made.page.locator("#no-contact")).to_be_hidden()


def test_the_hour_heard_counts_on_between_two_answers(site: Site, browser: Browser) -> None:
    with tab(browser, site.address) as made:
        made.page.clock.install()
        made.page.goto(site.address)
        made.page.clock.run_for(5_000)
        expect(made.page.locator("#heard")).to_have_text("Server heard 5 seconds ago")
