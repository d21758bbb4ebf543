"""The composition root: the one place that knows every part. Read it from top to bottom."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from alerts import site_words
from alerts.acts import apply as apply_alerts_act
from alerts.dispatcher import Dispatcher
from alerts.transport import Transport
from cure.acts import PourActs
from cure.days import Days
from cure.foresight import Foresight, Pace, Skies
from cure.form_sets import move_set
from cure.gate import OPEN, held
from cure.rounds import Foreseen, Rounds
from cure.skies import SiteSkies
from cure.taken_over import take_over
from cure.tokens import apply as apply_token_act
from deploy.anchors import anchors_of
from deploy.folders import data_folder
from deploy.judging import Judging, judging_of
from deploy.logger_keys import logger_keys
from deploy.standing import SelfCheck
from ingest.again import screen_again
from ingest.turns import SharedIntake
from shared.catalogue import Catalogue
from shared.errors import StoreError
from shared.models.acts import (
    Act,
    AlertsAct,
    FileDocument,
    LoggerAct,
    MoveSet,
    PutInForce,
    Require,
    Resume,
    ScreenAgain,
    Stop,
    TakeOver,
    TokenAct,
)
from shared.models.base import SensorId
from shared.models.decisions import DoubtKind
from shared.models.setup import Setup
from shared.models.weather import source_of
from shared.ports import Clock, Readings, Share
from shared.store import open_book, open_readings
from shared.store.book import SiteBook
from shared.store.lock import DataLock

LOG: Final = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Service:
    """The parts, wired; plain functions without threads. `serve` calls them from loops, `replay` from one `for`."""

    setup: Setup
    folder: Path
    clock: Clock
    readings: Readings
    book: SiteBook
    intake: SharedIntake
    judging: Judging
    dispatcher: Dispatcher
    pour_acts: PourActs
    self_check: SelfCheck
    days: Days
    words: Catalogue
    """Of the messages, with the site's own among them."""

    @property
    def rounds(self) -> Rounds:
        """What judges."""
        return self.judging.rounds

    @property
    def foresight(self) -> Foresight | None:
        """What foresees; None: nobody tells the weather, and hours are expected by plain comparison."""
        return self.judging.foresight

    def tick(self) -> None:
        """Do what is due in cure: a look at clock and stores, the rounds, the site's lists."""
        try:
            self.self_check.look()
        except StoreError as error:
            # The rounds see a clock that jumped for themselves.
            LOG.error("the look at the clock could not be written down: %s", error)
        self.judging.run_due()
        try:
            self.days.run_due()
        except StoreError as error:
            LOG.error("a list of the day could not be written, the next tick tries again: %s", error)

    def apply(self, act: Act) -> None:
        """Carry out what a person did. Raises `ActRefusedError`, with nothing done."""
        if isinstance(act, AlertsAct):
            apply_alerts_act(self.book.alerts, self.setup, act, self.clock.now())
        elif isinstance(act, Resume):
            self._resume(act)
        elif isinstance(act, ScreenAgain):
            self.pour_acts.screen_again(act)
            sensor = None if act.sensor is None else SensorId(act.sensor)
            screen_again(self.intake, self.book.refused, self.clock.now(), sensor)
        elif isinstance(act, PutInForce):
            self.pour_acts.put_in_force(act)
        elif isinstance(act, FileDocument | Require):
            self.pour_acts.apply_to_site(act)
        elif isinstance(act, MoveSet):
            move_set(self.setup.site, self.book.cure, self.book.board, self.clock.now(), act)
        elif isinstance(act, TakeOver):
            take_over(self.setup.site, self.book.cure, self.clock.now(), act)
        elif isinstance(act, LoggerAct):
            self.pour_acts.apply_to_logger(act)
        elif isinstance(act, TokenAct):
            apply_token_act(self.book.tokens, self.book.people, self.book.board.site(), act, self.clock.now())
        else:
            self.pour_acts.apply(act)

    def _resume(self, act: Resume) -> None:
        """End a doubt. Of stores that are an older copy a withdrawal may be forgotten: what is released is stopped."""
        self.self_check.refuse(act)
        mark = self.self_check.restored() if act.doubt is DoubtKind.LOG else None
        if mark is not None:
            why = f"restored from an older copy, log line {mark.seq}: what was decided since is not known"
            for row in self.book.board.board():
                if any(held(gate) in OPEN for gate in row.gates.values()):
                    self.pour_acts.apply(Stop(at=act.at, who=act.who, pour=row.pour.id, why=why))
        self.self_check.resume(act)


def site_skies(setup: Setup) -> Callable[[SiteBook], Skies]:
    """Return who tells the weather of a site: its source, and what it has measured itself."""
    return lambda book: SiteSkies(source_of(setup.site.weather), book.weather)


@contextmanager
def build(
    setup: Setup,
    *,
    clock: Clock,
    transport: Transport,
    senders: int = 0,
    skies: Callable[[SiteBook], Skies] | None = None,
    pace: Pace | None = None,
    foreseen: Foreseen | None = None,
    share: Share | None = None,
) -> Iterator[Service]:
    """Wire the service, lend it, close what was opened.

    Args:
        setup: a valid site file with its calibrations; its data folder takes one process at a time.
        clock: site time.
        transport: how worded messages leave.
        senders: sending threads; 0: sends happen inside `dispatcher.run_due`.
        skies: who tells the weather, by the site book; None: hours are expected by plain comparison.
        pace: how often a forecast is made, and by whom; None: each hour, in turn.
        foreseen: tells the expected hours in place of any forecast.
        share: which pours are judged here; None: all.

    Raises:
        LockedError: another process owns the folder.
        StoreError: a store cannot be opened.
    """
    folder = data_folder(setup)
    folder.mkdir(parents=True, exist_ok=True)
    with (
        DataLock(folder),
        closing(open_readings(setup, folder)) as readings,
        closing(open_book(setup, folder, clock.now())) as book,
    ):
        # message in -> stored reading
        site, keys = setup.site, logger_keys(setup)
        intake = SharedIntake(site.site.site_id, readings, book.ingest, clock, topics=site.topic, keys=keys)
        # stored reading -> decision and message, in one transaction
        judging = judging_of(setup, readings, book, clock, share, None if skies is None else skies(book), pace)
        # While no reading is taken, nothing is released either.
        rounds = replace(judging.rounds, full=intake.why_full)
        judging = replace(judging, rounds=rounds if foreseen is None else replace(rounds, foreseen=foreseen))
        acts = PourActs(setup.site, judging.rounds)
        # the service about itself: nothing is decided or sent before log and clock are looked at
        anchors, trouble = anchors_of(setup, folder), judging.rounds.trouble
        check = SelfCheck(setup, clock, book.service, readings, trouble, anchors, folder)
        check.begin()
        # message -> delivery
        own = site_words.load(Path(setup.folder, site_words.FOLDER))
        with closing(Dispatcher(setup, book.alerts, clock, transport, senders, catalogue=own)) as dispatcher:
            days = Days(setup.site, book.board, book.cure, book.service, readings, clock, book.weather)
            yield Service(
                setup,
                folder,
                clock,
                readings,
                book,
                intake,
                judging,
                dispatcher,
                acts,
                check,
                days,
                own,
            )
        check.end()
