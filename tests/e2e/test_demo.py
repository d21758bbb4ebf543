"""The demo as a newcomer runs it: 600 times real time, over the real embedded broker, ended by Ctrl-C."""

from __future__ import annotations

from pathlib import Path

import pytest
from demo_run import INTERVAL_MS, RECORD, Demo, ran, shipped

from deploy.demo.ledger import differences
from deploy.demo.truth import true_strength_mpa
from shared.models.base import BayId

pytestmark = pytest.mark.quiet

SHOWN = {
    "a release": r"^ +RELEASED, no added load.*: strip bay",
    "walk": r"^ +RELEASED, no added load.*: walk bay",
    "cold delay": r"^ +COLD DELAY",
    "its reason": r"^ +- concrete below the limit",
    "a hold": r"hold +3-b3-p1: freeze suspected opened",
    "a withdrawal": r"^ +KEEP FORMS ON",
}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    return ran(Path(RECORD) if RECORD else tmp_path_factory.mktemp("demo"))


def test_it_shows_its_first_release_within_a_minute_and_the_whole_story_within_three(demo: Demo) -> None:
    assert demo.first(SHOWN["a release"]) <= 60.0
    late = {name: demo.first(pattern) for name, pattern in SHOWN.items() if not demo.first(pattern) <= 180.0}
    assert late == {}, demo.lines[-30:]


def test_it_stops_cleanly_on_ctrl_c(demo: Demo) -> None:
    text = "\n".join(line for _, line in demo.lines)
    assert demo.code == 0, text[-2000:]
    assert "Traceback" not in text
    assert "ERROR" not in text
    assert "stopped. What was recorded" in text


def test_its_ledger_is_the_shipped_one_within_an_interval(demo: Demo) -> None:
    assert differences(shipped(), demo.ledger(), INTERVAL_MS) == []


def test_no_release_comes_before_the_true_strength_at_the_coldest_point(demo: Demo) -> None:
    needed = {"strip": 3.5, "walk": 3.5, "load": 7.0}
    released = [x for x in demo.ledger() if x.after == "released"]
    assert released
    for line in released:
        assert true_strength_mpa(BayId(line.pour.removesuffix("-p1")), line.at_ms) >= needed[line.operation], line
