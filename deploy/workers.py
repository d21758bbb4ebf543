"""Workers beside a service: `slabhour ingest`, `cure` and `alerts`, as many as a site needs, on any of its hosts.

Both stores are on servers then. One `slabhour serve` must run too: it keeps set-up, clock and log, and serves the
pages. A worker that ends, however it ends, loses nothing: readings that it had not acknowledged are the broker's, its
pours go to the others, what it was sending is unsure when its lease is over and goes again.
"""

from __future__ import annotations

import argparse
import logging
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from alerts import site_words
from alerts.dispatcher import Dispatcher
from alerts.transport import ChildTransport
from cure.scheduler import TickScheduler
from deploy import logs
from deploy.broker_name import named
from deploy.broker_parts import broker_address
from deploy.cli_site import DONE, add_site, say, setup_of
from deploy.folders import data_folder
from deploy.judging import judging_of
from deploy.logger_keys import logger_keys
from deploy.secret_files import secrets_of
from deploy.serve import EVERY_MS, SENDERS, DispatchLoop, until_told_to_stop
from deploy.watchdog import Watchdog
from deploy.wiring import site_skies
from ingest.listener import Listener
from ingest.part import name_of, part_of
from ingest.turns import SharedIntake
from shared.clock import SystemClock
from shared.errors import SlabError, StoreError
from shared.models.setup import Setup
from shared.ports import Clock, Readings
from shared.store import join_book, open_readings, open_share
from shared.store.book import OTHER_FILE, SiteBook

LOG: Final = logging.getLogger(__name__)
EVERY_S: Final = EVERY_MS / 1000.0
LOOK_S: Final = 5.0
"""Between two looks whether the site file is still the one in force."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a worker works."""

    setup: Setup
    clock: Clock
    readings: Readings
    book: SiteBook


@contextmanager
def joined(setup: Setup, clock: Clock) -> Iterator[Place]:
    """Lend the stores of a site whose service runs. Raises `SlabError`: they are files of one process, or no service
    has begun them.
    """
    for name, kind in (("readings", setup.site.stores.readings.kind), ("book", setup.site.stores.book.kind)):
        if kind == "sqlite":
            raise SlabError(
                f"[stores] {name} is a file, which is one process's own: put both stores on servers "
                "(`slabhour store copy` moves them), or let `slabhour serve` do it all"
            )
    with (
        closing(open_readings(setup, data_folder(setup))) as readings,
        closing(join_book(setup)) as book,
    ):
        yield Place(setup, clock, readings, book)


@contextmanager
def ingesting(place: Place, topics: Sequence[str]) -> Iterator[Mapping[str, Callable[[], float]]]:
    """Take readings on some topics of the site, on all without any; lend what says how long ago each loop turned."""
    site = place.setup.site
    keys, book = logger_keys(place.setup), place.book.ingest
    whole = SharedIntake(site.site.site_id, place.readings, book, place.clock, topics=site.topic, keys=keys)
    part = part_of(whole, topics or [name for name, _ in whole.subscriptions()])
    broker = named(broker_address(place.setup), data_folder(place.setup), lasting=True)
    listener = Listener(broker, site.site.site_id, part, name=name_of(part))
    with ExitStack() as stack:
        stack.callback(listener.stop)
        listener.start()
        yield {"readings": listener.stale_s}


@contextmanager
def curing(place: Place, _topics: Sequence[str]) -> Iterator[Mapping[str, Callable[[], float]]]:
    """Judge and foresee a share of the open pours."""
    with closing(open_share(place.setup)) as share, ExitStack() as stack:
        skies = site_skies(place.setup)(place.book)
        judging = judging_of(place.setup, place.readings, place.book, place.clock, share, skies)
        tick = TickScheduler(judging.run_due, EVERY_S)
        stack.callback(tick.stop)
        tick.start()
        yield {"tick": tick.stale_s}


@contextmanager
def alerting(place: Place, _topics: Sequence[str]) -> Iterator[Mapping[str, Callable[[], float]]]:
    """Send what is due."""
    setup = place.setup
    own = site_words.load(Path(setup.folder, site_words.FOLDER))
    with closing(
        Dispatcher(setup, place.book.alerts, place.clock, ChildTransport(setup), SENDERS, catalogue=own)
    ) as dispatcher:
        dispatcher.recover(alone=False)
        with closing(DispatchLoop(dispatcher.run_due, EVERY_S)) as dispatch:
            dispatch.start()
            yield {"dispatcher": dispatch.stale_s}


PARTS: Final = {"ingest": ingesting, "cure": curing, "alerts": alerting}
"""What a worker can do, by the name of its command."""


def ingest(args: argparse.Namespace) -> int:
    """Take readings beside a running service: all topics of the site, or some."""
    return _work("ingest", args, args.topic)


def cure(args: argparse.Namespace) -> int:
    """Judge a share of the open pours beside a running service."""
    return _work("cure", args)


def alerts(args: argparse.Namespace) -> int:
    """Send messages beside a running service."""
    return _work("alerts", args)


WORKERS: Final = {"ingest": ingest, "cure": cure, "alerts": alerts}
"""The commands."""


def add_worker(name: str, parser: argparse.ArgumentParser) -> None:
    """Give a worker's command its arguments."""
    if name == "ingest":
        told = "only this topic filter, within one of the site file; again for more"
        parser.add_argument("--topic", action="append", default=[], metavar="FILTER", help=told)
    parser.add_argument("--log", choices=logs.KINDS, default="text", help="how it logs (default: text)")
    add_site(parser)


def _refuse_other_file(place: Place) -> None:
    """Raise `StoreError` when the service was started with another site file since."""
    try:
        same = place.book.is_set_up(place.setup)
    except StoreError as error:
        # It is away, and may come back; nothing is judged or sent meanwhile.
        LOG.warning("%s", error)
        return
    if not same:
        raise StoreError(OTHER_FILE)


def _work(name: str, args: argparse.Namespace, topics: Sequence[str] = ()) -> int:
    setup = setup_of(args)
    say_it = logs.begin(args.log, secrets_of(setup), say)
    with until_told_to_stop() as stop, joined(setup, SystemClock()) as place, PARTS[name](place, topics) as loops:
        with closing(Watchdog(loops)) as watchdog:
            watchdog.start()
            say_it(f"slabhour {name} works for {setup.site.site.name}; Ctrl-C stops")
            while not stop.wait(LOOK_S):
                _refuse_other_file(place)
        say_it("stopping: what was begun is finished first")
    return DONE
