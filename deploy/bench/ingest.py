"""How much comes in, how fast: `python -m deploy.bench.ingest [--json] [--broker mosquitto|embedded] [--only RUN]`.

On Mosquitto as we ship its configuration (without TLS) and on the embedded broker. Loggers publish at QoS 1 from
processes of their own, one reading a message; the listener, in a process of its own with both stores on disk,
acknowledges what is committed. The runs on a broker, each told as soon as it is done; one that fails says so, and the
others go on:

- bare: a subscriber that acknowledges at once and does nothing else, loggers as fast as they can: once by the MQTT
  library that the service uses, once by a bare socket, which no library reaches;
- full: the listener in its place;
- steady: so many readings a second for half a minute, each timed from publishing to its commit;
- backlog: so many readings wait at the broker when the listener starts.
"""

from __future__ import annotations

import argparse
import json
import logging
import sys
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

from deploy.bench.brokers import BROKERS, syncs_a_second
from deploy.bench.ingest_runs import Bench, backlog, bare, full, steady
from deploy.bench.sites import ZONES, logger_name, site
from deploy.cli_site import say
from shared.clock import SystemClock

LOG: Final = logging.getLogger(__name__)
BAYS: Final = 20
LIMIT_RATIO: Final = 0.3
LIMIT_RATE: Final = 1000.0
NEARLY: Final = 0.98
"""Of the wanted rate: the last readings are committed after the last one was published."""
RUNS: Final = ("bare", "socket", "full", "steady", "backlog")


def _bare_said(name: str) -> Callable[[float], str]:
    return lambda rate: f"{name} {rate:.0f}/s"


def _full_said(found: Mapping[str, Any]) -> str:
    return f"as fast as it goes: {found['rate']:.0f}/s, {found['committed']} of {found['sent']} committed"


def _steady_said(found: Mapping[str, Any]) -> str:
    memory = ", ".join(f"{mb:.0f}" for mb in found["resident_mb"])
    return (
        f"steady: {found['rate']:.0f}/s of {found['wanted_rate']:.0f}/s wanted ({found['published_rate']:.0f}/s "
        f"published), {found['committed']} of {found['sent']} committed; published -> committed p50 "
        f"{found['p50_ms']:.1f} ms, p99 {found['p99_ms']:.1f} ms; memory at begin, middle, end {memory} MB; "
        f"{found['processor_us']:.0f} us each"
    )


def _backlog_said(found: Mapping[str, Any]) -> str:
    return (
        f"backlog: {found['committed']} of {found['published']} in {found['seconds']:.1f} s, {found['rate']:.0f}/s "
        f"({found['resident_mb'][-1]:.0f} MB); published in {found['publishing_s']:.1f} s"
    )


SAID: Final[Mapping[str, Callable[[Any], str]]] = {
    "bare": _bare_said("bare subscriber"),
    "socket": _bare_said("bare socket"),
    "full": _full_said,
    "steady": _steady_said,
    "backlog": _backlog_said,
}


def measure(name: str, options: argparse.Namespace, tell: Callable[[str], None]) -> dict[str, Any]:
    """Run everything on one broker, tell each figure as it is measured, and what failed; return all of them."""
    found: dict[str, Any] = {"broker": name, "failed": {}}
    with tempfile.TemporaryDirectory(prefix="slabhour-bench-") as place:
        folder = Path(place)
        site(folder, BAYS, len(ZONES))
        loggers = [logger_name(n, k) for n in range(BAYS) for k in range(len(ZONES))]
        with BROKERS[name](folder, loggers) as broker:
            bench = Bench(broker, folder, loggers, folder / "site.toml", SystemClock().now() - 60_000)
            runs: Mapping[str, Callable[[], Any]] = {
                "bare": lambda: bare(bench, options.full_s, "client"),
                "socket": lambda: bare(bench, options.full_s, "subscriber"),
                "full": lambda: full(bench, options.full_s),
                "steady": lambda: steady(bench, options.seconds, options.rate),
                "backlog": lambda: backlog(bench, options.backlog),
            }
            for run in options.only or RUNS:
                syncs = syncs_a_second(folder)
                tell(f"{name}: {run} begins; the disk syncs {syncs:.0f}/s")
                attempt(run, runs[run], found, tell)
                found.setdefault("syncs", {})[run] = syncs
                if run in found["failed"]:
                    tell(f"  the broker said:{_last_words(folder)}")
    judged(found, options, tell)
    return found


def attempt(run: str, do: Callable[[], Any], found: dict[str, Any], tell: Callable[[str], None]) -> None:
    """Do one run, and tell at once what it found, or that it failed and why."""
    try:
        found[run] = do()
    except Exception as error:
        # One run that fails must not cost the figures of the others.
        LOG.exception("%s failed", run)
        found["failed"][run] = f"{type(error).__name__}: {error}"
        tell(f"  {run} FAILED: {found['failed'][run]}")
    else:
        tell(f"  {SAID[run](found[run])}")


def _last_words(folder: Path) -> str:
    log = folder / "broker" / "nats.log"
    lines = log.read_text(encoding="utf-8", errors="replace").splitlines() if log.exists() else []
    return "".join(f"\n    {line}" for line in lines[-4:]) or " nothing that is kept"


def judged(found: dict[str, Any], options: argparse.Namespace, tell: Callable[[str], None]) -> None:
    """Hold what was measured against the limits."""
    met = {f"{run} was run": False for run in found["failed"]}
    if "bare" in found and "full" in found:
        found["ratio"] = found["full"]["rate"] / found["bare"]
        met[f"{found['ratio']:.2f} of bare, wanted {LIMIT_RATIO:g}"] = found["ratio"] >= LIMIT_RATIO
    if "steady" in found:
        wanted = min(LIMIT_RATE, options.rate)
        met[f"{found['steady']['rate']:.0f}/s, wanted {wanted:.0f}/s"] = found["steady"]["rate"] >= wanted * NEARLY
    for run, sent in (("full", "sent"), ("steady", "sent"), ("backlog", "published")):
        if run in found:
            met[f"all of {run} committed"] = found[run]["committed"] == found[run][sent]
    found["within"] = all(met.values())
    for limit, is_met in met.items():
        tell(f"{found['broker']}: {'met' if is_met else 'NOT MET'}: {limit}")


def _aside(line: str) -> None:
    sys.stderr.write(line + "\n")
    sys.stderr.flush()


def _aloud(line: str) -> None:
    say(line)
    sys.stdout.flush()


def main(arguments: list[str]) -> int:
    """Print what was found; 1 when a limit is broken, a run failed or a reading is missing."""
    parser = argparse.ArgumentParser(prog="python -m deploy.bench.ingest", description=__doc__)
    parser.add_argument("--broker", choices=sorted(BROKERS), help="only this one")
    parser.add_argument("--only", choices=RUNS, action="append", help="only this run; may be said several times")
    parser.add_argument("--rate", type=float, default=LIMIT_RATE, help="readings a second of the steady run")
    parser.add_argument("--seconds", type=float, default=30.0, help="of the steady run")
    parser.add_argument("--full-s", type=float, default=10.0, help="seconds of the two runs as fast as it goes")
    parser.add_argument("--backlog", type=int, default=100_000, help="readings that wait")
    parser.add_argument("--json", action="store_true", help="as JSON at the end; the progress goes to standard error")
    options = parser.parse_args(arguments)
    tell = _aside if options.json else _aloud
    found = [measure(name, options, tell) for name in ([options.broker] if options.broker else BROKERS)]
    if options.json:
        say(json.dumps(found, indent=1))
    return 0 if all(one["within"] for one in found) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
