"""The rounds: every pour with news, or due, is assessed and the result recorded. Plain functions, no threads."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final, TypeAlias

from cure.assess import assess
from cure.cold_ahead import ColdAhead
from cure.foretold import Foretold
from cure.history import Histories
from cure.taken_back import check_void, going_on, void
from cure.work import ForeseenHours, Standing
from shared.clock import look
from shared.elapsed import Spans, elapsed_ms, jump_words, seen, why_insane
from shared.errors import MovedError, SlabError, StoreError
from shared.models.acts import PourAct, PourEnd, TakeBack, act_to, ms
from shared.models.base import MINUTE_MS, Ms, Operation, PourId
from shared.models.decisions import DoubtKind, GateState, LogEntry, Stripped
from shared.models.messages import MessageKind
from shared.ports import Clock, CureBook, PourCase, Readings, Result, Share, Whole

LOG: Final = logging.getLogger(__name__)
TRIES: Final = 5
"""A reading or act that comes between reading the case and recording makes a result void; then it is done again."""
STOP_TRIES: Final = 100
POURS_A_ROUND: Final = 200
FIRST_WAIT_MS: Final = MINUTE_MS
LONGEST_WAIT_MS: Final = 15 * MINUTE_MS
"""A pour that cannot be judged is tried again after 1 min, 2, 4, 8, then every 15."""


Foreseen: TypeAlias = Callable[[PourId, Ms], Mapping[Operation, ForeseenHours]]
"""Pour, site time -> expected hours of each operation of which any are foreseen."""


def nothing_foreseen(pour: PourId, now_ms: Ms) -> Mapping[Operation, ForeseenHours]:
    """Return nothing: the hours are expected by plain comparison."""
    del pour, now_ms
    return {}


def nothing_foretold(pour: PourId, now_ms: Ms) -> Foretold:
    """Return nothing: nobody foresees anything."""
    del pour, now_ms
    return Foretold()


def nothing_stripped(pour: PourId, now_ms: Ms) -> Stripped | None:
    """Return nothing: what the strip would do is not foreseen."""
    del pour, now_ms
    return None


def nothing_ahead(pour: PourId, now_ms: Ms) -> ColdAhead | None:
    """Return nothing: cold is told when it is there."""
    del pour, now_ms
    return None


def nothing_full() -> str | None:
    """Return nothing: there is room."""
    return None


UNSYNCHRONISED: Final = "the service's clock is not synchronised"


@dataclass(frozen=True, slots=True)
class _Wait:
    """How long a pour that could not be judged is left alone."""

    since_ms: Ms
    ms: Ms

    def lasts(self, now: Ms) -> bool:
        # A clock that was put back must not make it longer.
        return self.since_ms <= now < self.since_ms + self.ms


@dataclass(slots=True)
class StoreTrouble:
    """In how many rounds on end a store has failed, and what it said last."""

    rounds: int = 0
    said: str = ""


@dataclass(frozen=True, slots=True)
class Rounds:
    """Cure's loop body, wired to a clock and the stores."""

    readings: Readings
    book: CureBook
    clock: Clock
    foreseen: Foreseen = nothing_foreseen
    """Expected hours by the forecast; they are told, and open nothing."""
    cold_ahead: Callable[[PourId, Ms], ColdAhead | None] = nothing_ahead
    """How cold the concrete is foreseen to be; told too, and opens nothing."""
    full: Callable[[], str | None] = nothing_full
    """Says why no reading can be taken for want of room, or None."""
    stripped: Callable[[PourId, Ms], Stripped | None] = nothing_stripped
    """What taking the forms off would do: told, and a hold where frost is likely."""
    foretold: Callable[[PourId, Ms], Foretold] = nothing_foretold
    """What is told beside the expected hours; it opens nothing."""
    share: Share = field(default_factory=Whole)
    """Which pours are judged here, when they are due."""
    trouble: StoreTrouble = field(default_factory=StoreTrouble, init=False, compare=False)
    _waits: dict[PourId, _Wait] = field(default_factory=dict, init=False, repr=False, compare=False)
    _histories: Histories = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_histories", Histories(self.readings))

    def run_due(self) -> int:
        """Bring every pour that is due up to date; return how many were tried.

        One pour that cannot be judged keeps its gates as they are, is written to the log, is left alone for a while,
        and does not keep the others waiting. A person's act does not wait.
        """
        now = self.clock.now()
        try:
            self.share.look(now)
        except StoreError as error:
            LOG.error("no pour is judged here: %s", error)
            return 0
        # Those that wait stay due: they must not take the places of others.
        due = filter(self.share.mine, self.book.due(now, POURS_A_ROUND + len(self._waits)))
        tried = [pour for pour in due if pour not in self._waits or not self._waits[pour].lasts(now)]
        failed = ""
        for pour in tried:
            try:
                self.run(pour)
            except MovedError as error:
                LOG.info("%s", error)
            except StoreError as error:
                # A store fails for every pour alike, and when it is back nobody must wait long for a withdrawal.
                self._waits[pour] = _Wait(now, FIRST_WAIT_MS)
                failed = str(error)
                LOG.error("pour %s was not judged: %s", pour, error)
            except SlabError as error:
                LOG.error("pour %s was not judged: %s; next try in %d min", pour, error, self._put_off(pour, now))
            except Exception:
                LOG.exception("pour %s was not judged; next try in %d min", pour, self._put_off(pour, now))
        if tried:
            self.trouble.rounds, self.trouble.said = (self.trouble.rounds + 1 if failed else 0), failed
        return len(tried)

    def _put_off(self, pour: PourId, now: Ms) -> int:
        """Leave a pour alone, twice as long as the last time; return the minutes."""
        last = self._waits.get(pour)
        self._waits[pour] = _Wait(now, FIRST_WAIT_MS if last is None else min(2 * last.ms, LONGEST_WAIT_MS))
        return self._waits[pour].ms // MINUTE_MS

    def run(self, pour: PourId, act: PourAct | None = None) -> Result:
        """Assess one pour, with a person's act if there is one, and record the result.

        Raises:
            ActRefusedError: the act cannot be accepted now; nothing was recorded.
            StoreError: a store failed, or the pour moved under every try.
        """
        for _ in range(TRIES):
            case = self.book.case(pour)
            now = self.clock.now()
            try:
                # What a person does is judged by the whole record, also should what is kept of it be wrong.
                series = (self._histories.of if act is None else self._histories.anew)(case, now)
            except StoreError:
                # Nothing is judged without readings; but a doubt that is told suspends.
                if act is None:
                    self._suspend(case, now)
                raise
            result = assess(case, series, now, standing=self._standing(case, act), act=act)
            if self.book.record(case, result):
                self._waits.pop(pour, None)
                return result
        raise MovedError(f"{pour} moved under every one of {TRIES} tries; the next round tries again")

    def imagined(self, pour: PourId, changed: Callable[[PourCase], PourCase]) -> tuple[Result, Result]:
        """Return what a round would make of a pour as it is, and changed so. Nothing is recorded.

        Raises:
            StoreError: a store failed, or there is no such pour.
        """
        case, now = self.book.case(pour), self.clock.now()
        series, standing = self._histories.anew(case, now), self._standing(case)
        after = assess(changed(case), series, now, standing=standing)
        return assess(case, series, now, standing=standing), after

    def _suspend(self, case: PourCase, now: Ms) -> None:
        """Record nothing but the suspension of a pour whose readings cannot be read, once the store is in doubt."""
        if not any(d.kind is DoubtKind.STORE for d in case.doubts):
            return
        blind = assess(case, {}, now, standing=self._standing(case))
        gates = tuple(g if g.state is GateState.SUSPENDED else case.gates.get(g.operation, g) for g in blind.gates)
        if all(g == case.gates.get(g.operation) for g in gates):
            return
        self.book.record(
            case,
            replace(
                blind,
                gates=gates,
                holds=case.holds,
                state=replace(case.state, memory=blind.state.memory, next_due_ms=now),
                messages=tuple(m for m in blind.messages if m.kind is MessageKind.IN_DOUBT),
                log=tuple(e for e in blind.log if e.what == "gate" and e.body.get("to") == GateState.SUSPENDED),
                snapshots={},
            ),
        )

    def stop(self, pour: PourId, act: PourAct) -> Result:
        """Record a STOP: also when the readings cannot be read or judged, because STOP only shuts."""
        try:
            return self.run(pour, act)
        except StoreError as error:
            LOG.error("STOP without readings: %s", error)
        except Exception:
            LOG.exception("STOP without readings")
        for _ in range(STOP_TRIES):
            case = self.book.case(pour)
            result = assess(case, {}, self.clock.now(), standing=self._standing(case, act), act=act)
            if self.book.record(case, result):
                return result
        raise MovedError(f"{pour} moved under every one of {STOP_TRIES} tries: press STOP again")

    def take_back(self, pour: PourId, act: TakeBack) -> None:
        """Record that the start of a pour is taken back, and in one with it that the pour before goes on.

        Raises:
            ActRefusedError: the start stands; nothing was recorded.
            StoreError: a store failed, or one of the two moved under every try.
        """
        for _ in range(TRIES):
            case, since = self.book.case(pour), self.book.since_start(pour)
            check_void(case, since.acts)
            now = self.clock.now()
            voided = void(case, act, now)
            if since.ended is None:
                log = (LogEntry(now, act.who, "act", act_to(act)), *voided.log)
                written = self.book.record(case, replace(voided, act=act, log=log))
            else:
                before = self.book.case(since.ended)
                again = going_on(before, case, now)
                series, standing = self._histories.anew(again, now), self._standing(again, act)
                result = assess(again, series, now, standing=standing, act=act)
                written = self.book.record(before, result, (case, voided))
            if written:
                return
        raise MovedError(f"{pour} moved under every one of {TRIES} tries: take its start back again")

    def _standing(self, case: PourCase, act: PourAct | None = None) -> Standing:
        """Return what the service knows about itself: doubts that are told, the clock as it is now, elapsed time."""
        seen_now = look(self.clock)
        spans = seen(case.clock, seen_now)
        doubts = [d.reason for d in case.doubts]
        if not any(d.kind is DoubtKind.CLOCK for d in case.doubts):
            required = case.site.site.clock_sync == "required"
            doubts += [d for d in (why_insane(seen_now), _jumped(spans)) if d is not None]
            doubts += [UNSYNCHRONISED] * (required and not seen_now.synchronised)
        end_ms = ms(act.happened or act.at) if isinstance(act, PourEnd) else case.pour.end_ms
        elapsed = None if end_ms is None else elapsed_ms(spans.spans, end_ms, _vouched(case, spans))
        now = self.clock.now()
        pour = case.pour.id
        told = self.foreseen(pour, now), self.cold_ahead(pour, now), self.stripped(pour, now)
        return Standing(tuple(doubts), elapsed, *told, foretold=self.foretold(pour, now), full=self.full() is not None)


def checked_elapsed_ms(case: PourCase, clock: Clock) -> int | None:
    """Return the time that has certainly passed since the end of a pour; None: it has no end yet. [ms]"""
    spans, end_ms = seen(case.clock, look(clock)), case.pour.end_ms
    return None if end_ms is None else elapsed_ms(spans.spans, end_ms, _vouched(case, spans))


def _jumped(spans: Spans) -> str | None:
    return jump_words(spans.jump_ms) if spans.jump_ms else None


def _vouched(case: PourCase, spans: Spans) -> Ms | None:
    """Return an hour that the loggers' own clocks have reached: the middle one, so that a fast one vouches for nothing.

    Of two in the middle the earlier. Since a reading came its logger's clock has run on as the service has counted.
    """
    came = [case.arrivals[p.sensor] for p in case.placements if p.sensor in case.arrivals]
    reached = sorted(a.newest_ms + elapsed_ms(spans.spans, a.newest_received_ms) for a in came)
    return reached[(len(reached) - 1) // 2] if reached else None
