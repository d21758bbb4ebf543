"""Orders to the laboratory: which cylinders of an open pour to break, at which maturity, and when. Pure.

Advice from the stored rows alone: it releases nothing. A break counts only with its own temperature record.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from cure.accumulate import Law
from cure.bound import k_age_h
from cure.break_hours import CURING_C, BreakHours, Ripening, Target, break_hours
from cure.counted import as_counted
from cure.plans import LOAD_MPA, STRIP_MPA, in_force
from cure.strength import CURVES
from cure.verification import CYLINDERS
from cure.verification_due import CYLINDERS as CYLINDERS_TO_VERIFY
from cure.verification_due import due
from shared import units
from shared.models.base import Ms, Operation
from shared.models.calibration import Calibration
from shared.models.decisions import GateState, MixTest
from shared.models.requirement import AllRule, AnyRule, Requirement, Rule, StrengthRule, TestsRule
from shared.models.setup import LaboratorySettings, MixSettings
from shared.ports import BoardBook, BoardRow, MixRow

NEAR: Final = 0.9
"""Cylinders riper than so much of a target have answered it (our judgement)."""
NO_RECORD: Final = "no reading yet to say how the slab ripens"


@dataclass(frozen=True, slots=True)
class Wanted:
    """A strength that something rests on."""

    mpa: float
    what: str
    """The operation that asks for it, or "verification"."""
    by_bound: bool = True
    """Asked of the lower bound, for which an estimate must be more; else of the tests themselves."""
    cylinders: int = CYLINDERS

    @property
    def enough(self) -> int:
        """How many cylinders answer it: for what is asked of the bound, and to verify, a set."""
        return CYLINDERS if self.by_bound else self.cylinders


@dataclass(frozen=True, slots=True)
class Order:
    """Cylinders to break at one maturity: at the laboratory, or beside the slab."""

    age_h: float
    curve_mpa: float
    """What the curve says there."""
    wanted: tuple[Wanted, ...]
    cylinders: int
    laboratory: BreakHours
    """Of cylinders cured at 20 degC from the end of the pour on."""
    beside: BreakHours
    """Of cylinders beside the slab, as cold as its coldest sensor is now."""


@dataclass(frozen=True, slots=True)
class PourOrders:
    """What to order for one pour."""

    bay: str
    pour: str
    mix: str
    version: int | None
    verify: str | None
    """Why it is to verify its calibration."""
    orders: tuple[Order, ...] = ()
    """The soonest first."""
    notes: tuple[str, ...] = ()
    """What cannot be ordered, and why."""


@dataclass
class _Targets:
    """Strengths by the maturity at which they are broken."""

    calibration: Calibration
    mix: MixSettings
    by_age: dict[float, list[Wanted]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)

    def add(self, wanted: Wanted) -> None:
        c = self.calibration
        age_h = CURVES[c.curve].age_h(wanted.mpa, c.parameters)
        if wanted.by_bound:
            age_h = k_age_h(wanted.mpa, c, supplementary=self.mix.supplementary)
        if not age_h <= c.tested_to_h:
            asked = units.shown(wanted.mpa, "MPa", limit=True)
            self.notes.append(
                f"{wanted.what} asks for {asked}: no order, the curve has it beyond the tested {c.tested_to_h:g} h"
            )
            return
        self.by_age.setdefault(max(age_h, c.tested_from_h), []).append(wanted)


def _strengths(rule: Rule, operation: Operation, mix: MixSettings) -> Iterator[Wanted]:
    match rule:
        case StrengthRule():
            yield Wanted(rule.lower_bound_mpa, operation)
        case TestsRule() if rule.method != "in slab":
            limit = rule.tested_mpa
            if rule.tested_percent is not None and mix.specified_mpa is not None:
                limit = mix.specified_mpa * rule.tested_percent / 100.0
            if limit is not None:
                yield Wanted(limit, operation, by_bound=False, cylinders=max(CYLINDERS, rule.at_least))
        case AllRule():
            for part in rule.all:
                yield from _strengths(part, operation, mix)
        case AnyRule():
            for part in rule.any:
                yield from _strengths(part, operation, mix)
        case _:
            return


def _kept(row: BoardRow) -> Mapping[Operation, Requirement]:
    """Return what the newest round judged the pour by: also an operation that nobody writes any more."""
    judged = row.state.memory.get("judged", {"requirements": {}})["requirements"]
    by = {v.operation: judged.get(v.operation) for v in row.state.verdicts}
    return {op: Requirement.model_validate(was) for op, was in by.items() if was is not None}


def _all_wanted(book: BoardBook, row: BoardRow, mix: MixSettings, verify: str | None) -> Iterator[Wanted]:
    asked = in_force(book.site(), book.edits(row.pour.bay), _kept(row))
    for operation, force in asked.items():
        gate = row.gates.get(operation)
        if gate is None or gate.state is not GateState.DONE:
            yield from dict.fromkeys(_strengths(force.rule, operation, mix))
    if verify is not None:
        for mpa in (STRIP_MPA, LOAD_MPA):
            yield Wanted(mpa, "verification", cylinders=CYLINDERS_TO_VERIFY)


def _ripenings(row: BoardRow, end_ms: Ms, law: Law) -> tuple[Ripening, Ripening | None]:
    """Return how cylinders at 20 degC ripen from the end of the pour on, and how those beside the slab do."""
    found = row.state.estimate
    known = (None, None, None) if found is None else (found.evidence_ms, found.equivalent_age_h, found.coldest_c)
    evidence_ms, age_h, coldest_c = known
    beside = None
    if evidence_ms is not None and age_h is not None and coldest_c is not None and math.isfinite(age_h + coldest_c):
        beside = Ripening.at(evidence_ms, age_h, coldest_c, law)
    return Ripening.at(end_ms, 0.0, CURING_C, law), beside


@dataclass(frozen=True, slots=True)
class _Places:
    """Where cylinders of a pour ripen, and when a laboratory can break them."""

    at_20: Ripening
    beside: Ripening | None
    """None: there is no reading to say it."""
    laboratory: LaboratorySettings | None
    zone: str
    now_ms: Ms

    def hours(self, ripening: Ripening | None, target: Target) -> BreakHours:
        if ripening is None:
            return BreakHours(why=NO_RECORD)
        return break_hours(ripening, target, self.laboratory, self.zone, self.now_ms)


def _orders(targets: _Targets, own: Sequence[MixTest], places: _Places) -> Iterator[Order]:
    """Yield an order for each maturity that no cylinders of the pour have answered yet."""
    c = targets.calibration
    for age_h, wanted in sorted(targets.by_age.items()):
        target = Target(age_h, c.tested_from_h, c.tested_to_h)
        riper = [t for t in own if NEAR * age_h <= t.equivalent_age_h <= c.tested_to_h]
        if len(riper) >= max(w.enough for w in wanted):
            continue
        yield Order(
            age_h=age_h,
            curve_mpa=float(CURVES[c.curve].strength_mpa(np.array([age_h]), c.parameters)[0]),
            wanted=tuple(wanted),
            cylinders=max(w.cylinders for w in wanted),
            laboratory=places.hours(places.at_20, target),
            beside=places.hours(places.beside, target),
        )


def _of_pour(
    book: BoardBook, row: BoardRow, end_ms: Ms, mix_row: MixRow, laboratory: LaboratorySettings | None, now_ms: Ms
) -> PourOrders:
    calibration, tests, pour = mix_row.calibration, mix_row.tests, row.pour
    said = PourOrders(pour.bay, pour.id, pour.mix, calibration.version, None)
    left, stands = as_counted(calibration, mix_row.mix, tests, pour.id)
    if left is None:
        why = f"its calibration is suspended, {stands.suspended}: make cylinders for a new one, slabhour calibrate"
        return replace(said, notes=(why,))
    verify = due(mix_row, stands.sets, pour.id)
    # By what the curve counts for now: a weaker mix comes to its strength later.
    targets = _Targets(left, mix_row.mix)
    for wanted in _all_wanted(book, row, mix_row.mix, verify):
        targets.add(wanted)
    ripenings = _ripenings(row, end_ms, Law.of(calibration))
    places = _Places(*ripenings, laboratory, book.site().site.zone, now_ms)
    own = [t for t in tests if t.pour == pour.id]
    return replace(said, verify=verify, orders=tuple(_orders(targets, own, places)), notes=tuple(targets.notes))


def break_orders(book: BoardBook, laboratory: LaboratorySettings | None, now_ms: Ms) -> tuple[PourOrders, ...]:
    """Return what to order for each open pour whose end is entered, by bay.

    Args:
        book: the stored rows.
        laboratory: its hours, as the site file says them; None: any hour.
        now_ms: site time.
    """
    judged_by = {p.pour.id: row for row in book.mixes() for p in row.pours}
    found = []
    for row in book.board():
        pour, mix_row = row.pour, judged_by.get(row.pour.id)
        if pour.end_ms is None:
            continue
        if mix_row is None:
            why = f"no calibration of mix {pour.mix}: there is no maturity to order at"
            found.append(PourOrders(pour.bay, pour.id, pour.mix, None, None, notes=(why,)))
        else:
            found.append(_of_pour(book, row, pour.end_ms, mix_row, laboratory, now_ms))
    return tuple(found)
