"""A little site in a folder of the test's own, its readings and acts, and the command line run in this process."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pytest
from setup_support import CALIBRATION, SITE

from alerts.transport import RecordingTransport
from deploy.cli import main
from deploy.wiring import Service, build
from shared.clock import SimulatedClock
from shared.models.acts import Act, act_from
from shared.models.base import HOUR_MS, MINUTE_MS, Ms, SensorId
from shared.models.readings import Reading
from shared.sitefile import load

POUR: Final = "2-b1-p1"
START: Final = "2026-11-23T08:00:00-04:00"
START_MS: Final[Ms] = 1795435200000
END_MS: Final[Ms] = START_MS + HOUR_MS
SENSORS: Final = ("lg-01.1", "lg-01.2", "lg-09.1")


def write_site(folder: Path, **changes: str) -> Path:
    """Write a valid site file, with `old=new` lines replaced, and its calibration; return its path."""
    text = SITE.replace('role = "qc"\n', 'role = "qc"\nchannels = [{ kind = "inbox", file = "qc.jsonl" }]\n')
    # Many run on one machine.
    text += "[web]\nport = 0\n"
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    (folder / "calibrations").mkdir(exist_ok=True)
    (folder / "calibrations" / "c32-f-v1.toml").write_text(CALIBRATION, encoding="utf-8")
    path = folder / "site.toml"
    path.write_text(text, encoding="utf-8")
    return path


def history(hours: float, c: float = 18.0, air_c: float = 12.0, *, every_min: int = 15) -> list[Reading]:
    """Return readings of the little bay from the pour's start on, each received when taken."""
    times = range(START_MS, START_MS + round(hours * HOUR_MS) + 1, every_min * MINUTE_MS)
    return [
        Reading(SensorId(s), t, round((air_c if s == "lg-09.1" else c) * 1000), t + 1000)
        for t in times
        for s in SENSORS
    ]


def act(kind: str, at_ms: Ms, who: str = "super", **fields: Any) -> Act:
    """Return an act by a person of the little site."""
    from datetime import UTC, datetime

    return act_from({"kind": kind, "at": datetime.fromtimestamp(at_ms / 1000, UTC), "who": who, **fields})


def poured() -> list[Act]:
    """Return the start and the end of the little pour."""
    return [
        act("pour_start", START_MS, bay="2-b1", pour=POUR),
        act("pour_end", END_MS, pour=POUR),
    ]


@contextmanager
def little_service(folder: Path, now: Ms = START_MS, **changes: str) -> Iterator[tuple[Service, SimulatedClock]]:
    """Lend a wired service on real stores in simulated time."""
    clock = SimulatedClock(now)
    with build(load(write_site(folder, **changes)), clock=clock, transport=RecordingTransport()) as service:
        yield service, clock


@dataclass(frozen=True, slots=True)
class Ran:
    """What a command did."""

    code: int
    out: str
    err: str

    def json(self) -> Any:
        """Return what it printed as JSON."""
        return json.loads(self.out)


def run(capsys: pytest.CaptureFixture[str], arguments: Sequence[str | Path]) -> Ran:
    """Run `slabhour` in this process."""
    capsys.readouterr()
    try:
        code = main([str(a) for a in arguments])
    except SystemExit as ended:
        code = int(ended.code or 0)
    out, err = capsys.readouterr()
    assert "Traceback" not in out + err
    return Ran(code, out, err)
