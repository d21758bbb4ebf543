"""The composition root: the one place that knows every part. Read it from top to bottom."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from alerts.acts import confirm
from alerts.dispatcher import Dispatcher
from alerts.transport import Transport
from cure.acts import PourActs
from cure.rounds import Rounds
from ingest.intake import Intake
from shared.models.acts import Act, Confirm
from shared.models.setup import Setup
from shared.ports import Clock, Readings
from shared.store import open_book, open_readings
from shared.store.book import SiteBook
from shared.store.lock import DataLock


@dataclass(frozen=True, slots=True)
class Service:
    """The parts, wired; plain functions without threads. `serve` calls them from loops, `replay` from one `for`."""

    setup: Setup
    folder: Path
    clock: Clock
    readings: Readings
    book: SiteBook
    intake: Intake
    rounds: Rounds
    dispatcher: Dispatcher
    pour_acts: PourActs

    def apply(self, act: Act) -> None:
        """Carry out what a person did. Raises `ActRefusedError`, with nothing done."""
        if isinstance(act, Confirm):
            confirm(self.book.alerts, act)
        else:
            self.pour_acts.apply(act)


def data_folder(setup: Setup) -> Path:
    """Return the site's data folder."""
    return Path(setup.folder, setup.site.site.data).resolve()


def with_data(setup: Setup, folder: Path) -> Setup:
    """Return the set-up with another data folder: replay and demo keep theirs apart from the site's."""
    site = setup.site.site.model_copy(update={"data": str(folder.resolve())})
    return replace(setup, site=setup.site.model_copy(update={"site": site}))


@contextmanager
def build(setup: Setup, *, clock: Clock, transport: Transport, senders: int = 0) -> Iterator[Service]:
    """Wire the service, lend it, close what was opened.

    Args:
        setup: a valid site file with its calibrations; its data folder takes one process at a time.
        clock: site time.
        transport: how worded messages leave.
        senders: sending threads; 0: sends happen inside `dispatcher.run_due`.

    Raises:
        LockedError: another process owns the folder.
        StoreError: a store cannot be opened.
    """
    folder = data_folder(setup)
    folder.mkdir(parents=True, exist_ok=True)
    with (
        DataLock(folder),
        closing(open_readings(setup.site.stores.readings.kind, folder)) as readings,
        closing(open_book(setup, folder, clock.now())) as book,
    ):
        # message in -> stored reading
        intake = Intake(setup.site.site.site_id, readings, book.ingest, clock)
        # stored reading -> decision and message, in one transaction
        rounds = Rounds(readings, book.cure, clock)
        # message -> delivery
        with closing(Dispatcher(setup, book.alerts, clock, transport, senders)) as dispatcher:
            acts = PourActs(setup.site, rounds)
            yield Service(setup, folder, clock, readings, book, intake, rounds, dispatcher, acts)
