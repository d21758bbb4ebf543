"""The demo run as a newcomer runs it, until the last step of the shipped ledger has been shown; then Ctrl-C.

What it recorded lies where DEMO_RECORD says; a run that is done lies there for whoever comes later, in another process.
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event, Thread
from typing import Final

from deploy.demo.ledger import LEDGER_FILE, Line, from_json
from shared.models.base import MINUTE_MS

RECORD: Final = os.environ.get("DEMO_RECORD")
INTERVAL_MS: Final = 15 * MINUTE_MS
LONGEST_S: Final = 300.0


@dataclass
class Demo:
    """What a run printed, each line with the real seconds since the service was up."""

    folder: Path
    code: int = -1
    lines: list[tuple[float, str]] = field(default_factory=list)

    def first(self, pattern: str) -> float:
        """Return when a line first matched; infinite: never."""
        return next((at for at, line in self.lines if re.search(pattern, line)), float("inf"))

    @property
    def recorded(self) -> bool:
        """Whether it has run to its end: the ledger is the last that it writes."""
        return (self.folder / "ledger.json").exists()

    def ledger(self) -> list[Line]:
        """Return what it recorded."""
        return from_json((self.folder / "ledger.json").read_text(encoding="utf-8"))


def shipped() -> list[Line]:
    """Return the ledger as it ships."""
    return from_json(LEDGER_FILE.read_text(encoding="utf-8"))


def ran(folder: Path) -> Demo:
    """Run the demo on a folder."""
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
