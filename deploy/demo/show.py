"""`slabhour demo`: the invented site, sped up, over a real broker, shown in a terminal."""

from __future__ import annotations

import socket
import tempfile
import textwrap
import time
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from threading import Event
from typing import Final

from alerts.wording import reasons, words
from deploy.answers import with_names
from deploy.broker_parts import broker_address
from deploy.demo import forecasts
from deploy.demo.forecasts import TOPIC
from deploy.demo.ledger import lines_of, to_json
from deploy.demo.loggers import Publisher, packs
from deploy.demo.people import LOOK_EVERY_MS, ScriptedPeople
from deploy.demo.scenario import CLOSE_MS, OPEN_MS, SITE_FILE, at, opening_acts
from deploy.folders import with_data
from deploy.replay import write_acts, write_readings
from deploy.serve import Running, running, until_told_to_stop
from deploy.status import board_lines
from deploy.wiring import Service
from shared.clock import SpedUpClock
from shared.errors import ActRefusedError
from shared.models.acts import Act
from shared.models.base import HOUR_MS, Ms
from shared.models.decisions import LogEntry
from shared.models.setup import Setup
from shared.models.weather import TopicWeather
from shared.sitefile import load

STEP_S: Final = 0.02
BOARD_EVERY_MS: Final = 6 * HOUR_MS
BEHIND: Final = 50
"""With more packs than this published and not stored yet, site time waits too."""
INTRODUCTION: Final = """\
slabhour demo: an invented site, six bays, 18 loggers, one mix. Virtual slabs cure under an invented cold front;
their loggers publish over real MQTT; one real second is {minutes:g} minutes on site. The people of the site are
scripted: each of their acts is marked so. Ctrl-C ends it; it ends by itself after {real:.1f} minutes
(--rate 120: the same story in 18, to look at its pages).
What it records lies in {folder}
"""


def _free(port: int) -> int:
    """Return the port if nothing listens there, else a free one."""
    for candidate in (port, 0):
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind(("127.0.0.1", candidate))
            except OSError:
                continue
            return int(probe.getsockname()[1])
    raise OSError("no free port on 127.0.0.1")


def _demo_setup(folder: Path) -> Setup:
    setup = with_data(load(SITE_FILE), folder)
    ports = {
        "broker": setup.site.broker.model_copy(update={"port": _free(setup.site.broker.port)}),
        "web": setup.site.web.model_copy(update={"port": _free(setup.site.web.port)}),
    }
    weather = TopicWeather(kind="mqtt", topic=TOPIC)
    return replace(setup, site=setup.site.model_copy(update={**ports, "weather": weather}))


class Screen:
    """Prints what happens as it is written to the log, and the board now and then."""

    def __init__(self, service: Service, say: Callable[[str], None]) -> None:
        self._service = service
        self.say = say
        self._seq = 0
        self._shown: set[int] = set()
        self._board_at: Ms = OPEN_MS

    def news(self) -> None:
        """Print what is new."""
        for seq, entry in self._service.book.board.log_after(self._seq):
            self._seq = seq
            line = self._line(entry)
            if line:
                self.say(f"{_hour(entry.at_ms)}  {line}")
        now = self._service.clock.now()
        if now - self._board_at >= BOARD_EVERY_MS:
            self._board_at = now
            self.board()

    def board(self) -> None:
        """Print the board."""
        self.say(
            "\n" + textwrap.indent("\n".join(board_lines(self._service.book.board, self._service.clock.now())), "  | ")
        )
        self.say("")

    def _line(self, entry: LogEntry) -> str:
        body = entry.body
        if entry.what == "gate":
            return f"gate     {body['pour']} {body['operation']}: {body['from']} -> {body['to']} ({body['reason']})"
        if entry.what == "hold":
            return f"hold     {body['pour']}: {body['hold']} {body['event']}: {body['reason']}"
        if entry.what == "act":
            who = f"{entry.who} (scripted)" if body.get("scripted") else entry.who
            number = f"message no. {body['message']}" if "message" in body else None
            named = body.get("pour") or number or body.get("bay") or "the site"
            kind = str(body["kind"]).replace("_", " ")
            return f"act      {who}: {kind} {named} {', '.join(body.get('operations') or ())}".rstrip()
        if entry.what == "doubt":
            return f"doubt    {body['doubt']}: {body.get('reason', '')}"
        if entry.what == "delivery" and body["state"] == "accepted" and body["message"] not in self._shown:
            self._shown.add(body["message"])
            return self._message(body["message"])
        return ""

    def _message(self, number: int) -> str:
        message = next(m for m in self._service.book.board.messages() if m.no == number)
        text = words(message, repeat=False)
        told = sorted({d.recipient for d in self._service.book.board.deliveries() if d.message == number})
        why = "".join(f"\n               - {r}" for r in reasons(message))
        return f"MESSAGE  to {', '.join(told)}\n             {text.short}{why}"


def _hour(at_ms: Ms) -> str:
    return at(at_ms).strftime("%a %H:%M")


def _hand_in(service: Service, acts: Sequence[Act], say: Callable[[str], None]) -> None:
    for act in acts:
        try:
            service.apply(act)
        except ActRefusedError as error:
            say(f"{_hour(service.clock.now())}  refused  {act.who} (scripted): {act.kind}: {error}")


def record(service: Service, folder: Path) -> None:
    """Write down everything that came in and was done, so that it can be replayed, and the ledger."""
    rows = [
        reading
        for sensor in sorted({p.sensor for p in service.book.ingest.placements()})
        for reading in service.readings.rows(sensor, 0, CLOSE_MS)
    ]
    zone = service.setup.site.site.zone
    with (folder / "readings.csv").open("w", encoding="utf-8") as file:
        write_readings(file, rows, zone)
    with (folder / "acts.jsonl").open("w", encoding="utf-8") as file:
        write_acts(file, with_names(service.book.board.acts(), service.book.board.messages()))
    with (folder / "weather.jsonl").open("wb") as file:
        file.writelines(pack.payload + b"\n" for pack in forecasts.packs() if pack.published_ms <= service.clock.now())
    log = [entry for _, entry in service.book.board.log_after(0)]
    (folder / "ledger.json").write_text(to_json(lines_of(log)), encoding="utf-8")


def _run(parts: Running, clock: SpedUpClock, publisher: Publisher, screen: Screen, stop: Event) -> None:
    service, people = parts.service, ScriptedPeople()
    opened, looked, sent = False, clock.now(), 0
    while not stop.wait(STEP_S) and clock.now() < CLOSE_MS:
        sent += publisher.run_until(clock.now())
        behind = sent - parts.listener.counters().acknowledged
        clock.step(passing=behind <= BEHIND)
        if not opened and behind == 0 and clock.now() >= opening_acts()[0].at_ms:
            opened = True
            _hand_in(service, opening_acts(), screen.say)
        if clock.now() - looked >= LOOK_EVERY_MS:
            looked = clock.now()
            _hand_in(
                service, people.acts(service.book.board.board(), looked, service.book.board.messages()), screen.say
            )
        screen.news()


def show(*, rate: float, folder: Path | None, say: Callable[[str], None]) -> None:
    """Run the demo until its story is over or Ctrl-C."""
    where = Path(tempfile.mkdtemp(prefix="slabhour-demo-")) if folder is None else folder
    where.mkdir(parents=True, exist_ok=True)
    setup = _demo_setup(where)
    say(INTRODUCTION.format(minutes=rate / 60, real=(CLOSE_MS - OPEN_MS) / 60_000 / rate, folder=where))
    begun = time.monotonic()
    clock = SpedUpClock(OPEN_MS, rate)
    with ExitStack() as stack:
        stop = stack.enter_context(until_told_to_stop())
        parts = stack.enter_context(running(setup, clock, rate=rate, demo=True))
        address = broker_address(setup)
        publisher = stack.enter_context(Publisher([*packs(), *forecasts.packs()], address.host, address.port))
        where_to = f"broker on {address.host}:{address.port}; web on {parts.web.address.url}"
        say(f"the service is up after {time.monotonic() - begun:.1f} s; {where_to}\n")
        screen = Screen(parts.service, say)
        _run(parts, clock, publisher, screen, stop)
        screen.news()
        screen.board()
        record(parts.service, where)
    say(
        f"stopped. What was recorded can be judged again, byte for byte the same each time:\n  {_replay_command(where)}"
    )


def _replay_command(folder: Path) -> str:
    given = f"--acts {folder / 'acts.jsonl'} --weather {folder / 'weather.jsonl'}"
    return f"slabhour replay {SITE_FILE} {folder / 'readings.csv'} {given}"
