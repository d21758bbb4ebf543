"""Everything in one process: broker, listener, web server, tick, dispatcher, control socket, watchdog, heartbeat."""

from __future__ import annotations

import logging
import signal
import sys
import threading
import time
from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass
from types import FrameType
from typing import Final

from starlette.types import ASGIApp

from alerts.transport import ChildTransport, Transport
from cure.scheduler import TickScheduler
from deploy.broker_name import named
from deploy.broker_parts import access_of, broker_address, filters_of, own_address
from deploy.control import ControlSocket
from deploy.folders import data_folder
from deploy.foreseeing_beside import FASTEST, Beside, pace
from deploy.heartbeat import WATCHED_NOT, Heartbeat, url_of
from deploy.housekeeping import LOOK_S, Housekeeping
from deploy.incoming import WatchedFolder
from deploy.reserve import Reserve
from deploy.selftest import SelfTest, canary_of
from deploy.watchdog import Watchdog
from deploy.weather_parts import WeatherParts, weather_parts
from deploy.web_loggers import taken_by_web, web_loggers
from deploy.web_server import WebServer, web_address
from deploy.wiring import Service, build, site_skies
from ingest.broker import EmbeddedBroker
from ingest.listener import Listener
from ingest.part import without
from ingest.weather_topic import Takes
from shared.models.acts import Act, instant
from shared.models.base import LoggerId
from shared.models.setup import Setup
from shared.models.weather import source_of
from shared.ports import Clock, NoShare
from shared.store import open_share

LOG: Final = logging.getLogger(__name__)
SENDERS: Final = 4
EVERY_MS: Final = 1000
"""Site time between two looks of the tick and of the dispatcher."""
SHORTEST_S: Final = 0.05
"""Real time between them at least: sped-up sites look less often than every second of theirs."""

YIELD_S: Final = 0.0005
"""So long a thread computes on while another waits for its turn (Python's own: 5 ms). A page asks the stores a dozen
times, and after each the rounds may have the turn: at 5 ms a page of 8 ms took 60 beside them."""


class DispatchLoop:
    """Calls the dispatcher in a thread of its own."""

    def __init__(self, run_due: Callable[[], int], every_s: float) -> None:
        self._run_due = run_due
        self._every_s = every_s
        self._closing = threading.Event()
        self._woken = threading.Event()
        self._thread = threading.Thread(target=self._run, name="dispatcher", daemon=True)
        self._turned = time.monotonic()

    def start(self) -> None:
        """Begin."""
        self._turned = time.monotonic()
        self._thread.start()

    def wake(self) -> None:
        """Turn at once: something may have been written that must be told."""
        self._woken.set()

    def close(self) -> None:
        """Finish the turn that is running, and end."""
        self._closing.set()
        self.wake()
        self._thread.join()

    def stale_s(self) -> float:
        """Return the real seconds since the loop last turned; infinite when its thread has ended."""
        return time.monotonic() - self._turned if self._thread.is_alive() else float("inf")

    def _run(self) -> None:
        while not self._closing.is_set():
            self._woken.clear()
            try:
                self._run_due()
            except Exception:
                LOG.exception("the dispatcher's turn failed; the next one tries again")
            self._turned = time.monotonic()
            self._woken.wait(self._every_s)


def nothing_sent() -> int:
    """Send nothing: others do."""
    return 0


@dataclass(frozen=True, slots=True)
class Running:
    """A service whose loops turn."""

    service: Service
    listener: Listener
    web: WebServer


def _now(act: Act, clock: Clock) -> Act:
    """Return the act stamped with the site's own hour: the command that hands it in may run by another clock."""
    return act.model_copy(update={"at": instant(clock.now())})


def _application(
    service: Service,
    listener: Listener,
    loggers: Mapping[LoggerId, str],
    weather: WeatherParts,
    apply: Callable[[Act], None],
    stale_s: Mapping[str, Callable[[], float]],
    *,
    demo: bool,
) -> ASGIApp:
    # They take a second to load, and most commands do without.
    from cure.dashboard.api import api
    from cure.dashboard.app import not_found, pages
    from deploy.api_parts import api_parts
    from deploy.page_parts import page_parts
    from deploy.web import application
    from ingest.http import router
    from ingest.logins import Logins

    site, people = service.setup.site, page_parts(service, apply, demo=demo)
    parts = [api(api_parts(service, people, stale_s)), pages(people)]
    if loggers:
        parts.append(router(site.site.site_id, site.topic, service.intake, listener.writer, Logins(loggers)))
    return application([*parts, *weather.routers], not_found(people))


def _heartbeat(service: Service, test: SelfTest, monitor: str | None) -> Heartbeat:
    site = service.setup.site
    return Heartbeat(site.site.site_id, monitor, site.heartbeat.every_s, test, service.book.service.log_head)


@contextmanager
def running(
    setup: Setup,
    clock: Clock,
    *,
    rate: float = 1.0,
    transport: Transport | None = None,
    demo: bool = False,
    elsewhere: Collection[str] = (),
) -> Iterator[Running]:
    """Lend a service with all loops turning; end them in the order in which nothing is lost.

    Must be entered from the main thread, which the broker child lives and dies with.

    Args:
        setup: the site.
        clock: site time.
        rate: site seconds a real second; a site that is sped up foresees only if it is told of the weather, and as
            often as it has real time for.
        transport: how worded messages leave; None: by a child process for each.
        demo: whether the pages let whoever is at this machine act for the scripted people, without a password.
        elsewhere: parts that only `deploy.workers` do: "ingest", "cure", "alerts".
    """
    # It takes a second to load, and most commands do without.
    from deploy.verdicts import Verdicts

    every_s = max(SHORTEST_S, EVERY_MS / 1000.0 / rate)
    address, monitor = broker_address(setup), url_of(setup)
    loggers = web_loggers(setup)
    with ExitStack() as stack:
        stack.callback(sys.setswitchinterval, sys.getswitchinterval())
        sys.setswitchinterval(YIELD_S)
        # A port that is taken is told before anything has begun.
        web = stack.enter_context(closing(WebServer(web_address(setup))))
        # In this order: the folder's lock, the log and the clock (inside), what was being sent; then all the rest.
        leave = ChildTransport(setup) if transport is None else transport
        knows = rate == 1.0 or (rate <= FASTEST and source_of(setup.site.weather) is not None)
        skies = site_skies(setup) if knows else None
        foreseen = pace(rate, stack.enter_context(closing(Beside()))) if knows else None
        shared = setup.site.stores.book.kind != "sqlite"
        share = stack.enter_context(closing(NoShare() if "cure" in elsewhere else open_share(setup)))
        built = build(setup, clock=clock, transport=leave, senders=SENDERS, skies=skies, pace=foreseen, share=share)
        service = stack.enter_context(built)
        reserve = stack.enter_context(closing(Reserve(service.folder)))
        service.intake.full = reserve.look
        if setup.site.broker.kind == "embedded":
            access = access_of(setup)
            address = own_address(access, setup.site.broker.port)
            stack.enter_context(EmbeddedBroker(data_folder(setup), setup.site.broker.port, access))
        if lost := service.dispatcher.recover(alone=not shared):
            LOG.warning("%d deliveries were running when the service last ended: they count as unsure", lost)
        told = nothing_sent if "alerts" in elsewhere else service.dispatcher.run_due
        dispatch = stack.enter_context(closing(DispatchLoop(told, every_s)))

        def tick_and_tell() -> None:
            reserve.look()
            service.tick()
            dispatch.wake()

        def apply_and_tell(act: Act) -> None:
            service.apply(_now(act, clock))
            dispatch.wake()

        tick = TickScheduler(tick_and_tell, every_s)
        stack.callback(tick.stop)
        weather = stack.enter_context(closing(weather_parts(service)))
        takes: Takes = without(weather.takes, filters_of(setup)) if "ingest" in elsewhere else weather.takes
        mine = named(address, service.folder, lasting=setup.site.broker.kind == "url")
        listener = Listener(mine, setup.site.site.site_id, takes)
        stack.callback(listener.stop)
        control = stack.enter_context(closing(ControlSocket(service.folder, apply_and_tell)))
        incoming = stack.enter_context(closing(WatchedFolder(service)))
        loops = {
            "tick": tick.stale_s,
            "readings": listener.stale_s,
            "dispatcher": dispatch.stale_s,
            "web": web.stale_s,
        }
        web.app = _application(service, listener, loggers, weather, apply_and_tell, loops, demo=demo)
        # After the listener: what came by the web is stored before the one that stores ends.
        stack.callback(web.close)
        watchdog = stack.enter_context(closing(Watchdog(loops)))
        keeping = Housekeeping(service)
        hourly = TickScheduler(keeping.look, LOOK_S)
        stack.callback(hourly.stop)
        stack.callback(keeping.end)
        canary = canary_of(address, service)
        test = SelfTest(
            service,
            canary,
            listener.healthy,
            tick.stale_s,
            listener.alarms,
            rate,
            lambda: [*keeping.wrong(), *reserve.wrong()],
        )
        heartbeat = stack.enter_context(closing(_heartbeat(service, test, monitor)))
        shown = stack.enter_context(closing(Verdicts(address, service, rate)))
        for part in (dispatch, tick, listener, control, incoming, weather, web, watchdog, hourly, heartbeat, shown):
            part.start()
        yield Running(service, listener, web)


@contextmanager
def until_told_to_stop() -> Iterator[threading.Event]:
    """Lend an event that SIGINT and SIGTERM set."""
    stop = threading.Event()

    def told(_signal: int, _frame: FrameType | None) -> None:
        stop.set()

    before = {s: signal.signal(s, told) for s in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _first_link(service: Service) -> str | None:
    from cure.dashboard.door import first_link

    return first_link(service.book.people, service.setup.site, service.clock.now())


def serve(setup: Setup, clock: Clock, say: Callable[[str], None], elsewhere: Collection[str] = ()) -> None:
    """Run until told to stop. `elsewhere`: parts that only workers do."""
    with until_told_to_stop() as stop, running(setup, clock, elsewhere=elsewhere) as parts:
        where = broker_address(setup)
        site = setup.site.site
        say(f"slabhour serves {site.name} from {parts.service.folder}")
        at = f"{setup.site.broker.listen or where.host}:{where.port}"
        say(f"readings: MQTT on {at}, topics {', '.join(filters_of(setup))}")
        say(f"web: {parts.web.address.url}; {taken_by_web(setup)}; Ctrl-C stops")
        reached = setup.site.web.address or parts.web.address.url
        if (link := _first_link(parts.service)) is not None:
            say(f"nobody looks after the people yet: {reached}{link} makes the first admin, once")
        if setup.site.heartbeat.url_file is None:
            say(WATCHED_NOT)
        reason: str | None = None
        while not stop.wait(1.0):
            now = parts.listener.healthy()
            if now != reason:
                say(f"readings: {now or 'the broker is connected'}")
                reason = now
        say("stopping: what waits is stored and acknowledged first")
