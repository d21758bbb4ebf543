"""From a reading published to its message handed to the channel: `python -m deploy.bench.latency`.

The whole service with its loops, over the embedded broker, on real stores; 60 bays with five loggers each, all of them
sending all the while. What is measured is each time one pack of one logger, or one act, and what it makes:

- freeze: a reading of -1 degC in young concrete -> "freeze locked";
- withdrawal: late copies, 0.9 degC colder, of a cold spell in the counted hours of a released bay -> withdrawal;
- keep off: "strip begun" handed in through the control socket -> "keep off".
"""

from __future__ import annotations

import json
import math
import socket
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from alerts.transport import Attempt
from deploy.bench.sites import ZONES, bay_name, logger_name, site
from deploy.cli_site import say
from deploy.control import hand_in
from deploy.serve import Running, running
from shared.clock import SystemClock
from shared.models.acts import act_from, instant
from shared.models.base import HOUR_MS, MINUTE_MS, STRIP, Ms, SensorId
from shared.models.decisions import GateState
from shared.models.messages import MessageKind, Outcome, OutcomeKind
from shared.models.readings import Reading
from shared.units import milli_c

BAYS: Final = 60
LOGGERS: Final = len(ZONES)
EACH: Final = 20
"""Bays measured for each kind."""
BACKGROUND_EVERY_S: Final = 60.0
"""Every logger sends so often meanwhile."""
PATIENCE_S: Final = 30.0
AGE_MS: Final = 24 * HOUR_MS + 45 * MINUTE_MS
STEP_MS: Final = 15 * MINUTE_MS
LIMIT_S: Final = 2.0


@dataclass
class Stopwatch:
    """A transport that writes down when a message of a pour was first handed to it."""

    deadline_s: float = 20.0
    handed: dict[tuple[str, str], float] = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)
    look: Callable[[int], tuple[str, str]] = lambda _: ("", "")

    def send(self, attempt: Attempt, still_true: Callable[[], bool]) -> Outcome:
        now = time.perf_counter()
        for number in attempt.numbers:
            key = self.look(number)
            with self.lock:
                self.handed.setdefault(key, now)
        return Outcome(OutcomeKind.ACCEPTED if still_true() else OutcomeKind.NOT_NOW, "measured")

    def wait(self, kind: MessageKind, pour: str) -> float | None:
        """Return when a message was handed over; None: it never was."""
        end = time.perf_counter() + PATIENCE_S
        pause = threading.Event()
        while time.perf_counter() < end:
            with self.lock:
                if (kind, pour) in self.handed:
                    return self.handed[kind, pour]
            pause.wait(0.005)
        return None


class Publisher:
    """One client for all loggers."""

    def __init__(self, port: int) -> None:
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id="bench", protocol=mqtt.MQTTv311)
        self._client.max_inflight_messages_set(1000)
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()

    def send(self, bay: int, k: int, taken_ms: Ms, c: float) -> None:
        """Publish one reading."""
        self.pack(bay, k, [(taken_ms, c)])

    def pack(self, bay: int, k: int, readings: Iterable[tuple[Ms, float]]) -> None:
        """Publish one pack."""
        name = logger_name(bay, k)
        pack = [{"n": f"{name}.1", "u": "Cel", "t": at / 1000.0, "v": c} for at, c in readings]
        self._client.publish(f"slabhour/bench/r/{name}", json.dumps(pack), qos=1)

    def close(self) -> None:
        """Disconnect."""
        self._client.disconnect()
        self._client.loop_stop()


def _background(publisher: Publisher, stop: threading.Event, now: Callable[[], Ms]) -> None:
    """Let every logger say that it is as warm as before, once a minute, evenly spread."""
    pause = BACKGROUND_EVERY_S / (BAYS * LOGGERS)
    n = 0
    while not stop.wait(pause):
        k = n % LOGGERS
        publisher.send(n // LOGGERS % BAYS, k, now(), 10.0 if ZONES[k] == "air" else 17.0)
        n += 1


def _day_c(end_ms: Ms, at_ms: Ms, k: int) -> float:
    """Return what a bay's logger has measured: a slab that is warm but for a spell six hours ago, and steady air."""
    if ZONES[k] == "air":
        return 10.0
    spell_h = (at_ms - end_ms - AGE_MS) / HOUR_MS + 6.0
    return 18.0 - 12.5 * math.exp(-((spell_h / 3.0) ** 2))


def _prepare(parts: Running) -> None:
    """Pour every bay: the first third a day ago, with the readings of that day, released; the others just now."""
    service, now = parts.service, parts.service.clock.now()
    at = instant(now)
    rows = []
    for n in range(BAYS):
        old = EACH <= n < 3 * EACH
        end = now - (AGE_MS if old else MINUTE_MS)
        start = {"kind": "pour_start", "bay": bay_name(n), "pour": f"p-{n}", "happened": instant(end - HOUR_MS)}
        service.apply(act_from({"at": at, "who": "engineer", **start}))
        service.apply(
            act_from({"at": at, "who": "engineer", "kind": "pour_end", "pour": f"p-{n}", "happened": instant(end)})
        )
        times = range(end - HOUR_MS, now, STEP_MS)
        for k in range(LOGGERS):
            sensor = SensorId(f"{logger_name(n, k)}.1")
            rows += [Reading(sensor, t, milli_c(_day_c(end, t, k) if old else 18.0), now) for t in times]
    service.intake.take_rows(rows)


def _sign(parts: Running) -> None:
    """Wait until the old pours are met, and sign them."""
    service, end = parts.service, time.monotonic() + 300
    pause = threading.Event()
    todo = {f"p-{n}" for n in range(EACH, 3 * EACH)}
    while todo and time.monotonic() < end:
        pause.wait(2.0)
        for row in service.book.board.board():
            if row.pour.id in todo and row.gates[STRIP].state is GateState.MET:
                at = instant(service.clock.now())
                act = {"at": at, "who": "engineer", "kind": "sign", "pour": row.pour.id, "operations": ["strip"]}
                service.apply(act_from(act))
                todo.discard(row.pour.id)
    if todo:
        raise RuntimeError(f"never met: {sorted(todo)}")


def free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def _measure(parts: Running, watch: Stopwatch, publisher: Publisher) -> dict[str, list[float | None]]:
    service = parts.service
    now = service.clock.now
    pause = threading.Event()
    found: dict[str, list[float | None]] = {"freeze": [], "withdrawal": [], "keep off": []}
    for k in range(EACH):
        pause.wait(0.37)
        begun = time.perf_counter()
        publisher.send(k, 0, now(), -1.0)
        found["freeze"].append(_since(begun, watch.wait(MessageKind.FREEZE_LOCKED, f"p-{k}")))
        old = EACH + k
        begun = time.perf_counter()
        publisher.pack(old, 1, _colder(parts, old))
        found["withdrawal"].append(_since(begun, watch.wait(MessageKind.WITHDRAWAL, f"p-{old}")))
        stripped = f"p-{2 * EACH + k}"
        begun = time.perf_counter()
        act = {"kind": "under_way", "at": instant(now()), "who": "engineer", "pour": stripped, "operation": "strip"}
        hand_in(service.folder, act_from(act))
        found["keep off"].append(_since(begun, watch.wait(MessageKind.KEEP_OFF, stripped)))
    return found


def _colder(parts: Running, bay: int) -> list[tuple[Ms, float]]:
    """Return the coldest readings of a bay's logger once more, a little colder."""
    now, sensor = parts.service.clock.now(), SensorId(f"{logger_name(bay, 1)}.1")
    stored = parts.service.readings.rows(sensor, now - AGE_MS, now)
    return [(r.taken_ms, r.milli_c / 1000.0 - 0.9) for r in stored if r.milli_c < 5_900]


def _since(begun: float, handed: float | None) -> float | None:
    return None if handed is None else handed - begun


def _row(name: str, taken: list[float | None]) -> bool:
    """Print one line; return whether it is within the limit."""
    known = sorted(t for t in taken if t is not None)
    lost = len(taken) - len(known)
    if not known:
        say(f"{name:<12} {len(taken):>4}   never came")
        return False
    p50, p99 = (known[math.ceil(q * len(known)) - 1] for q in (0.5, 0.99))
    say(f"{name:<12} {len(taken):>4} {p50:>9.3f}s {p99:>9.3f}s {known[-1]:>9.3f}s   {lost} never came")
    return lost == 0 and p99 <= LIMIT_S


def main() -> int:
    """Print a table; 1 when a limit is broken."""
    watch = Stopwatch()
    with tempfile.TemporaryDirectory(prefix="slabhour-bench-") as name:
        setup = site(Path(name), BAYS, LOGGERS, free_port())
        with running(setup, SystemClock(), transport=watch) as parts:
            board = parts.service.book.board

            def look(number: int) -> tuple[str, str]:
                return next((str(m.kind), str(m.pour)) for m in board.messages() if m.no == number)

            watch.look = look
            say(f"{BAYS} bays, {BAYS * LOGGERS} loggers; a day of readings comes in ...")
            _prepare(parts)
            publisher, stop = Publisher(setup.site.broker.port), threading.Event()
            background = threading.Thread(target=_background, args=(publisher, stop, parts.service.clock.now))
            background.start()
            try:
                say("pours are met and signed (two estimates a minute apart, so this takes a while) ...")
                _sign(parts)
                found = _measure(parts, watch, publisher)
            finally:
                stop.set()
                background.join()
                publisher.close()
    say(f"\n{'message':<12} {'n':>4} {'p50':>10} {'p99':>10} {'longest':>10}")
    well = [_row(name, taken) for name, taken in found.items()]
    say(f"published (or handed in) -> handed to the channel; limit p99 {LIMIT_S:g} s; all loggers send every minute")
    return 0 if all(well) else 1


if __name__ == "__main__":
    sys.exit(main())
