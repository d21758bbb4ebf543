"""The demo as a newcomer runs it: 600 times real time, over the real embedded broker, ended by Ctrl-C."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event, Thread

import pytest

from deploy.demo.ledger import LEDGER_FILE, Line, differences, from_json, lines_of
from deploy.demo.scenario import CLOSE_MS, SITE_FILE
from deploy.demo.truth import true_strength_mpa
from deploy.replay import read_acts, read_readings, replay
from shared.models.acts import ms
from shared.models.base import MINUTE_MS, BayId
from shared.models.decisions import LogEntry
from shared.sitefile import load

pytestmark = pytest.mark.quiet

INTERVAL_MS = 15 * MINUTE_MS
SHOWN = {
    "a release": r"^ +RELEASED, no added load.*: strip bay",
    "walk": r"^ +RELEASED, no added load.*: walk bay",
    "cold delay": r"^ +COLD DELAY",
    "its reason": r"^ +- concrete below the limit",
    "a hold": r"hold +3-b3-p1: freeze suspected opened",
    "a withdrawal": r"^ +KEEP FORMS ON",
}
LONGEST_S = 300.0


@dataclass
class Demo:
    """What a run printed, each line with the real seconds since the service was up."""

    folder: Path
    code: int = -1
    lines: list[tuple[float, str]] = field(default_factory=list)

    def first(self, pattern: str) -> float:
        """Return when a line first matched; infinite: never."""
        return next((at for at, line in self.lines if re.search(pattern, line)), float("inf"))

    def ledger(self) -> list[Line]:
        """Return what it recorded."""
        return from_json((self.folder / "ledger.json").read_text(encoding="utf-8"))


def shipped() -> list[Line]:
    return from_json(LEDGER_FILE.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    """Run the demo until the last step of the shipped ledger has been shown, then press Ctrl-C."""
    folder = tmp_path_factory.mktemp("demo")
    last = max(shipped())
    wanted = re.escape(f"{last.pour} {last.operation}: {last.before} -> {last.after}")
    seen, shown = Demo(folder), Event()
    script = Path(sys.executable).with_name("slabhour")
    with subprocess.Popen(
        [script, "demo", "--data", folder], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, bufsize=1
    ) as process:
        assert process.stdout is not None
        out = process.stdout

        def read() -> None:
            up: float | None = None
            for line in out:
                up = time.monotonic() if up is None and "the service is up" in line else up
                seen.lines.append((0.0 if up is None else time.monotonic() - up, line.rstrip("\n")))
                if re.search(wanted, line):
                    shown.set()

        reader = Thread(target=read)
        reader.start()
        try:
            shown.wait(LONGEST_S)
            process.send_signal(signal.SIGINT)
            seen.code = process.wait(60)
        finally:
            process.kill()
            reader.join()
    return seen


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


def test_a_replay_of_what_it_recorded_makes_the_same_decisions_within_two_intervals(demo: Demo) -> None:
    told: list[LogEntry] = []

    def tell(line: dict[str, object]) -> None:
        from datetime import datetime

        if line["what"] == "gate":
            told.append(LogEntry(ms(datetime.fromisoformat(str(line["at"]))), str(line["who"]), "gate", line))

    readings, acts = read_readings(demo.folder / "readings.csv"), read_acts(demo.folder / "acts.jsonl")
    replay(load(SITE_FILE), readings, acts, until_ms=CLOSE_MS, tell=tell)
    live = [x for x in demo.ledger() if x.at_ms <= max(r.received_ms for r in readings)]
    replayed = [x for x in lines_of(told) if x.at_ms <= max(r.received_ms for r in readings)]
    assert differences(live, replayed, 2 * INTERVAL_MS) == []
