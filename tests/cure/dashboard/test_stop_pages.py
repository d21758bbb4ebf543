from __future__ import annotations

import re

from pages_support import NOW, Bench, Browser, row
from store_support import BAY

from cure.dashboard.stop_pages import ANYBODY, REPEATED, REPEATED_MS
from shared.models.base import STRIP
from shared.models.decisions import GateState
from shared.models.people import Role


def press(browser: Browser, why: str, csrf: str = "") -> str:
    """Press twice; return what the page says."""
    first = browser.post(f"/stop/{BAY}", {"why": why, "csrf": csrf}).text
    mark = re.search(r'name="mark" value="([^"]+)"', first)
    assert mark
    return browser.post(f"/stop/{BAY}", {"why": why, "mark": mark[1], "csrf": csrf}).text


def test_whoever_presses_without_end_fills_no_log_and_keeps_nobody_from_stop(bench: Bench) -> None:
    bench.board.rows = [row(states={STRIP: GateState.RELEASED})]
    stranger, qc = bench.browser(), bench.signed_in(Role.QC)
    for n in range(REPEATED + 3):
        assert "STOP is pressed" in press(stranger, f"crack {n}")
    assert [act.who for act in bench.acts] == [ANYBODY] * REPEATED
    # Who has a name goes on, so does everybody when something has changed, and when a while has passed.
    press(qc, "crack", bench.csrf(qc))
    bench.board.rows = [row(states={STRIP: GateState.UNDER_WAY})]
    press(stranger, "crack")
    assert [act.who for act in bench.acts[REPEATED:]] == ["qc", ANYBODY]
    bench.board.rows = [row(states={STRIP: GateState.WITHDRAWN})]
    for _ in range(REPEATED + 1):
        press(stranger, "crack")
    bench.clock.set(NOW + REPEATED_MS)
    press(stranger, "crack")
    assert len(bench.acts) == REPEATED + 2 + REPEATED + 1
