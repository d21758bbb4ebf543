"""The forecast of every open pour, made anew each hour after the rounds, so that it keeps no gate waiting.

It is told: the expected hour of board, lists and delays. No gate is judged by it.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final, Protocol

from cure.bay import BayEvidence, evidence
from cure.cold_ahead import ColdAhead
from cure.counted import as_verified
from cure.credit import together
from cure.forecast import HORIZON_H, MEMBERS, Ensemble, Forecast, NoForecast, Weather
from cure.foresee import Asked, Foreseen, foresee
from cure.foreseeable import asked_of, why_not
from cure.foreseen_hours import foretold, hours_of
from cure.foretold import Foretold
from cure.helps import by_ms, due_ms
from cure.lowering import judged_so_far
from cure.placed import as_placed
from cure.plans import in_force
from cure.seen import LOOK_BEFORE_MS
from cure.work import ForeseenHours
from shared.errors import SlabError
from shared.models.base import HOUR_MS, MINUTE_MS, Ms, Operation, PourId, SensorId
from shared.models.decisions import GateState, Stripped
from shared.models.readings import Series
from shared.models.setup import Zone
from shared.ports import Clock, CureBook, PourCase, Readings

LOG: Final = logging.getLogger(__name__)
EVERY_MS: Final = HOUR_MS
"""Of evidence, until it is made anew."""
STANDS_MS: Final = 3 * HOUR_MS
"""So long after its evidence a forecast is told; an older one says less than plain comparison."""
LOOKS_APART_MS: Final = 15 * MINUTE_MS
"""Of a pour, whether its forecast stands: to look costs as much as to judge it."""
MADE_AT_ONCE: Final = 3
LOOKED_AT_AT_ONCE: Final = 20
"""Of pours in one turn: the rounds and the watchdog wait for no more than these, the others come at the next turn."""
BESIDE_H: Final = 6
"""Weather before the pour and after the horizon."""
_PAST: Final = frozenset({GateState.RELEASED, GateState.UNDER_WAY, GateState.DONE, GateState.DONE_WITHOUT_RELEASE})
_STEPS: Final = frozenset({GateState.UNDER_WAY, GateState.DONE, GateState.DONE_WITHOUT_RELEASE})


class Foreseer(Protocol):
    """Works out forecasts, one batch at a time."""

    def ask(self, asked: Sequence[Asked]) -> None:
        """Begin with a batch."""

    def answers(self) -> Sequence[Foreseen] | None:
        """Return the forecasts of the batch, in its order; None: they are not worked out yet.

        Raises:
            Exception: whatever kept them from being worked out.
        """


class InTurn:
    """Works them out at once, in the thread that asks for the answers."""

    def __init__(self) -> None:
        self._asked: Sequence[Asked] = ()

    def ask(self, asked: Sequence[Asked]) -> None:
        self._asked = asked

    def answers(self) -> Sequence[Foreseen] | None:
        return foresee(self._asked)


@dataclass(frozen=True, slots=True)
class Pace:
    """How often a forecast is made, and by whom."""

    every_ms: Ms = EVERY_MS
    looks_apart_ms: Ms = LOOKS_APART_MS
    at_once: int = MADE_AT_ONCE
    looked_at: int = LOOKED_AT_AT_ONCE
    members: int = MEMBERS
    foreseer: Foreseer = field(default_factory=InTurn)


def as_it_is() -> tuple[float, str]:
    """Return a spread that is not widened."""
    return 1.0, ""


class Skies(Protocol):
    """Where the weather over a bay comes from."""

    def over(self, case: PourCase, air: Series | None, from_ms: Ms, to_ms: Ms, now_ms: Ms) -> Weather | NoForecast:
        """Return the weather of a stretch, or why there is none.

        Args:
            case: the pour.
            air: what the sensors in the air above its bay said; None: there is none.
            from_ms: where the stretch begins.
            to_ms: where it ends.
            now_ms: site time.
        """
        ...


@dataclass(frozen=True, slots=True)
class _Carried:
    """What is kept of a pour between forecasts, and of which pour it is."""

    of: tuple[Any, ...]
    ensemble: Ensemble


@dataclass(slots=True)
class Foresight:
    """The newest forecast of each open pour. For one thread, that of the rounds."""

    book: CureBook
    readings: Readings
    clock: Clock
    skies: Skies
    open_pours: Callable[[], Sequence[PourId]]
    elapsed_ms: Callable[[PourCase], int | None]
    """Checked time since the end of a pour."""
    spread: Callable[[], tuple[float, str]] = as_it_is
    """By how much the spread is widened, and why."""
    pace: Pace = field(default_factory=Pace)
    latest: dict[PourId, Forecast | NoForecast] = field(default_factory=dict, init=False)
    _beside: dict[PourId, Foreseen] = field(default_factory=dict, init=False)
    """What was worked out beside the newest forecast."""
    _carried: dict[PourId, _Carried] = field(default_factory=dict, init=False)
    _looked_ms: dict[PourId, Ms] = field(default_factory=dict, init=False)
    _under_way: list[tuple[Asked, tuple[Any, ...]]] = field(default_factory=list, init=False)

    def run_due(self) -> list[Forecast]:
        """Make anew the forecasts that are an hour of evidence old; return those that were made.

        A pour of which none can be made keeps the reason in `latest`; the others do not wait for it. While a batch is
        being worked out, nothing is looked at.
        """
        made = self._made() if self._under_way else []
        if self._under_way or not (asked := self._due(self.clock.now())):
            return made
        self._under_way = asked
        return [*made, *self._made(begun=False)]

    def _due(self, now_ms: Ms) -> list[tuple[Asked, tuple[Any, ...]]]:
        """Return what to ask in this turn, each with of which pour it is."""
        asked, apart_ms = list[tuple[Asked, tuple[Any, ...]]](), self.pace.looks_apart_ms
        pours = list(self.open_pours())
        for gone in self._looked_ms.keys() - set(pours):
            self.latest.pop(gone, None)
            self._carried.pop(gone, None)
            self._beside.pop(gone, None)
            self._looked_ms.pop(gone)
        # Who has waited longest comes first: else the last ones never would where a turn takes few.
        waiting = (p for p in pours if not 0 <= now_ms - self._looked_ms.get(p, -apart_ms) < apart_ms)
        for looked, pour in enumerate(sorted(waiting, key=lambda p: self._looked_ms.get(p, 0))):
            if len(asked) == self.pace.at_once or looked == self.pace.looked_at:
                break
            self._looked_ms[pour] = now_ms
            try:
                one = self._asked(pour, now_ms)
            except SlabError as error:
                LOG.error("nothing is foreseen of %s: %s", pour, error)
                one = NoForecast(pour, str(error), "the next round tries again")
            except Exception:
                LOG.exception("nothing is foreseen of %s", pour)
                one = _failed(pour)
            if isinstance(one, NoForecast):
                self.latest[pour] = one
            elif one is not None:
                asked.append(one)
        return asked

    def _made(self, *, begun: bool = True) -> list[Forecast]:
        """Return the forecasts that are under way, once they are worked out."""
        made, asked = [], self._under_way
        try:
            if not begun:
                self.pace.foreseer.ask([a for a, _ in asked])
            answers = self.pace.foreseer.answers()
        except Exception:
            # Whatever it is, no gate must wait for it, and no old hour stand as if it were new.
            LOG.exception("nothing is foreseen")
            self._under_way = []
            self.latest |= {a.work.pour: _failed(a.work.pour) for a, _ in asked}
            return []
        if answers is None:
            return []
        self._under_way = []
        for (one, of), found in zip(asked, answers, strict=True):
            pour = one.work.pour
            self.latest[pour], self._beside[pour] = found.said, found
            if found.carried is not None:
                self._carried[pour] = _Carried(of, found.carried)
            if isinstance(found.said, Forecast):
                made.append(found.said)
        return made

    def _asked(self, pour: PourId, now_ms: Ms) -> tuple[Asked, tuple[Any, ...]] | NoForecast | None:
        """Return what to ask of a pour and of which pour it is; None: what was foreseen stands, or nobody waits."""
        case = self.book.case(pour)
        if case.gates and all(gate.state in _PAST for gate in case.gates.values()):
            return None
        case = replace(case, state=as_placed(case.state, case.placements))
        case, _ = as_verified(case)
        after = case.pour.start_ms - LOOK_BEFORE_MS
        series = {p.sensor: self.readings.between(p.sensor, after, now_ms) for p in case.placements}
        found = evidence(case, series, now_ms, elapsed_ms=self.elapsed_ms(case))
        refused = why_not(found)
        if refused is not None or found.watermark_ms is None:
            return refused
        of = _of(found)
        if self._stands(pour, of, found.watermark_ms):
            return None
        to_ms = max(now_ms, found.watermark_ms) + (HORIZON_H + BESIDE_H) * HOUR_MS
        weather = self.skies.over(case, _air(case, series), after, to_ms, now_ms)
        if isinstance(weather, NoForecast):
            return weather
        plan = {op: force.rule for op, force in in_force(case.site, case.edits, judged_so_far(case)).items()}
        asked = asked_of(found, plan, weather)
        if isinstance(asked, NoForecast):
            return asked
        widened, why = self.spread()
        work = replace(asked.work, spread=replace(asked.work.spread, widened=widened))
        notes = (*asked.notes, *([why] if why else []))
        asked = replace(asked, work=work, notes=notes, members=self.pace.members)
        asked = replace(asked, due_ms=due_ms(case, plan), help_from_ms=by_ms(case, now_ms))
        kept = self._carried.get(pour)
        return (replace(asked, carried=kept.ensemble) if kept is not None and kept.of == of else asked), of

    def _stands(self, pour: PourId, of: tuple[Any, ...], through_ms: Ms) -> bool:
        last, kept = self.latest.get(pour), self._carried.get(pour)
        same = kept is not None and kept.of == of
        return same and isinstance(last, Forecast) and 0 <= through_ms - last.through_ms < self.pace.every_ms

    def hours(self, pour: PourId, now_ms: Ms) -> Mapping[Operation, ForeseenHours]:
        """Return the hours by which each operation's requirement is met. Empty: nothing is foreseen, or what was is
        old."""
        last = self.standing(pour, now_ms)
        return {} if last is None else {op: hours_of(expected) for op, expected in last.expected.items()}

    def foretold(self, pour: PourId, now_ms: Ms) -> Foretold:
        """Return what is told beside those hours: why they are wide, why there are none, what would bring them on."""
        beside = self._beside.get(pour)
        helps = None if beside is None else beside.helps
        return foretold(self.latest.get(pour), self.standing(pour, now_ms), helps)

    def cold_ahead(self, pour: PourId, now_ms: Ms) -> ColdAhead | None:
        """Return how cold the concrete is foreseen to be; None: nothing is foreseen, or what was is old."""
        last = self.standing(pour, now_ms)
        return None if last is None else ColdAhead(last.times_ms, last.governing_c.middle)

    def stripped(self, pour: PourId, now_ms: Ms) -> Stripped | None:
        """Return what taking the forms off would do; None: it is far off, warm ahead, or what was foreseen is old."""
        beside = None if self.standing(pour, now_ms) is None else self._beside.get(pour)
        return None if beside is None else beside.stripped

    def standing(self, pour: PourId, now_ms: Ms) -> Forecast | None:
        """Return the newest forecast; None: there is none, or it is old. This one may be called by any thread."""
        last = self.latest.get(pour)
        return last if isinstance(last, Forecast) and 0 <= now_ms - last.through_ms <= STANDS_MS else None


def _failed(pour: PourId) -> NoForecast:
    return NoForecast(pour, "it could not be computed", "the service's log says why; the next look tries again")


def _of(found: BayEvidence) -> tuple[Any, ...]:
    """Return what a carried ensemble hangs on: another one of it begins at the placing again."""
    case = found.case
    rewritten = tuple(sorted((s, a.rewritten) for s, a in case.arrivals.items()))
    sensors = tuple(s.placement for s in found.sensors)
    kept = case.state.memory
    covers = tuple(tuple(map(tuple, kept.get(name, []))) for name in ("covers", "covers_said", "heated"))
    calibration = None if case.calibration is None else case.calibration.version
    gates = tuple((op, g.state, g.changed_ms) for op, g in case.gates.items() if g.state in _STEPS)
    return (case.pour, case.mix, case.bay, sensors, covers, calibration, gates, rewritten)


def _air(case: PourCase, series: Mapping[SensorId, Series]) -> Series | None:
    airs = [series[p.sensor] for p in case.placements if p.zone is Zone.AIR and p.sensor in series]
    return together([s for s in airs if len(s)])
