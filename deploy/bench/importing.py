"""What an import costs: `python -m deploy.bench.importing [ROWS]`.

Writes a CSV of invented readings and imports it by the command, in a process of its own. Prints seconds (and how many
of them a core was busy), rows a second and the most memory that it used.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Final

from deploy.bench.sites import ZONES, logger_name, site
from shared.clock import SystemClock
from shared.models.acts import instant
from shared.models.base import MINUTE_MS

ROWS: Final = 1_000_000
BAYS: Final = 20
LOGGERS: Final = 5
LIMIT_S: Final = 60.0
LIMIT_MB: Final = 300.0


def write_readings(path: Path, rows: int) -> None:
    """Write a CSV in order of time, as a logger's software does: every sensor once a minute, the last one now."""
    sensors = [f"{logger_name(n // LOGGERS, n % LOGGERS)}.1" for n in range(BAYS * LOGGERS)]
    times = -(-rows // len(sensors))
    now = SystemClock().now()
    with path.open("w", encoding="utf-8") as file:
        file.write("time,id,temp\n")
        for n in range(rows):
            minute, k = divmod(n, len(sensors))
            at = instant(now - (times - minute) * MINUTE_MS).isoformat(timespec="seconds")
            celsius = 10.0 if ZONES[k % LOGGERS] == "air" else 15.0 + (minute * 7 + k) % 200 / 50.0
            file.write(f"{at},{sensors[k]},{celsius:.2f}\n")


def main(arguments: list[str]) -> int:
    """Print one line; return 1 when a limit for a million rows is broken."""
    rows = int(arguments[0]) if arguments else ROWS
    with tempfile.TemporaryDirectory(prefix="slabhour-bench-") as name:
        folder = Path(name)
        site(folder, BAYS, LOGGERS)
        write_readings(folder / "readings.csv", rows)
        options = ["--time", "time", "--sensor", "id", "--value", "temp", "--unit", "degC", "--json"]
        command = ["import", str(folder / "site.toml"), str(folder / "readings.csv"), *options]
        begun = time.perf_counter()
        ran = subprocess.run(  # noqa: S603  our own command
            [sys.executable, "-m", "deploy.cli", *command], check=True, stdout=subprocess.PIPE
        )
        seconds = time.perf_counter() - begun
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    megabytes, core_s = used.ru_maxrss / 1024.0, used.ru_utime + used.ru_stime
    stored = sum(tally["stored"] for tally in json.loads(ran.stdout)["sensors"].values())
    sys.stdout.write(
        f"{stored} of {rows} rows stored: {seconds:.1f} s ({core_s:.1f} s of a core), {rows / seconds:.0f} rows/s, "
        f"{megabytes:.0f} MB\n"
    )
    within = seconds <= LIMIT_S * max(1.0, rows / ROWS) and megabytes <= LIMIT_MB
    return 0 if within and stored == rows else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
