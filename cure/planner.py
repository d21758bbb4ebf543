"""What to do before a pour: the least protection that meets a wanted hour, and the best hour to begin. Pure.

Each question is put to the same ensemble, so that two answers differ by what was changed and by nothing else. A plan
releases nothing: it is told as expected.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

from cure.forecast import FOR_EVER_MS, Expected, Forecast, Slabwork, Span
from cure.planned import Judged, foreseen
from shared.models.base import HOUR_MS, Ms, Operation

FREEZING_ALLOWED: Final = 0.10
"""Chance of frost in young concrete above which nothing is proposed (our judgement, as for the hold)."""
TOGETHER: Final = 8
"""Cases that are worked out side by side."""
Foresee: TypeAlias = Callable[[Sequence[Slabwork], Sequence[Judged]], list[Forecast]]


@dataclass(frozen=True, slots=True)
class Protection:
    """What keeps a slab warm; hours count from the end of its pour."""

    cover_m2_k_per_w: float = 0.0
    """0: none."""
    cover_on_h: float = 2.0
    """When it is laid: as soon as the surface bears it."""
    cover_for_h: float | None = None
    """None: until further notice."""
    below_c: float | None = None
    """Temperature to which the space below is heated; None: not."""
    below_for_h: float | None = None
    """From the placing on; None: until further notice."""

    def __post_init__(self) -> None:
        # Written so that NaN is refused.
        spans = (h is None or h > 0.0 for h in (self.cover_for_h, self.below_for_h))
        if not (0.0 <= self.cover_m2_k_per_w <= 10.0 and self.cover_on_h >= 0.0 and all(spans)):
            raise ValueError("a cover has 0 to 10 m2K/W and hours from 0 on; what is on is on for some hours")
        if self.below_c is not None and not 0.0 <= self.below_c <= 40.0:
            raise ValueError("a space is heated to 0 to 40 degC")

    @property
    def effort(self) -> tuple[float, float, float, float]:
        """By which they are put in order: heating after all covers, then warmer, thicker, longer (our judgement)."""
        off = float("inf")
        return (
            -off if self.below_c is None else self.below_c,
            0.0 if self.below_c is None else off if self.below_for_h is None else self.below_for_h,
            self.cover_m2_k_per_w,
            0.0 if not self.cover_m2_k_per_w else off if self.cover_for_h is None else self.cover_for_h,
        )


@dataclass(frozen=True, slots=True)
class Offer:
    """What the site has to protect with."""

    covers_m2_k_per_w: tuple[float, ...] = (0.18, 0.35, 0.70)
    """Blankets: wet or pressed together they are worth 0.18 to 0.35 (our judgement)."""
    cover_for_h: tuple[float | None, ...] = (12.0, 24.0, 48.0, None)
    cover_on_h: float = 2.0
    below_c: tuple[float, ...] = (5.0, 10.0, 15.0, 20.0)
    """Empty: the space below cannot be heated."""

    def protections(self) -> tuple[Protection, ...]:
        """Return each that can be had, the least first."""
        covers = [Protection(r, self.cover_on_h, h) for r in self.covers_m2_k_per_w for h in self.cover_for_h]
        warm = [Protection(r, self.cover_on_h, None, c) for c in self.below_c for r in (0.0, *self.covers_m2_k_per_w)]
        return tuple(sorted((Protection(), *covers, *warm), key=lambda p: p.effort))


@dataclass(frozen=True, slots=True)
class Tried:
    """One case with its answer."""

    work: Slabwork
    protection: Protection
    forecast: Forecast
    operation: Operation
    wanted_ms: Ms | None
    wanted_chance: float

    @property
    def expected(self) -> Expected | None:
        """The hours of the operation; None: no heat model tells them."""
        return self.forecast.expected.get(self.operation)

    @property
    def start_ms(self) -> Ms:
        """The first concrete."""
        return start_of(self.work)

    @property
    def ready_ms(self) -> Ms | None:
        """By when it is met with the wanted chance; None: not within the horizon."""
        return None if self.expected is None else self.expected.at(self.wanted_chance)

    @property
    def chance(self) -> float | None:
        """That it is met by the wanted hour; None: no hour is wanted, or none can be told."""
        if self.wanted_ms is None or self.expected is None:
            return None
        return self.expected.chance_by(self.wanted_ms)

    @property
    def freezes(self) -> bool:
        """Whether frost in young concrete is likelier than is allowed."""
        return not self.forecast.freezing <= FREEZING_ALLOWED

    @property
    def meets(self) -> bool:
        """Whether it meets the wanted hour, or without one has an hour at all, and does not freeze."""
        there = self.ready_ms is not None if self.wanted_ms is None else (self.chance or 0.0) >= self.wanted_chance
        return there and not self.freezes


@dataclass(frozen=True, slots=True)
class Found:
    """What a search came to."""

    best: Tried | None
    """None: nothing that was tried meets it."""
    tried: tuple[Tried, ...]
    """In the order in which they were tried."""

    @property
    def nearest(self) -> Tried:
        """What was found, or else what comes nearest."""
        return self.best or max(self.tried, key=lambda t: (not t.freezes, t.chance or 0.0, -_late(t.ready_ms)))


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked of a pour."""

    judged: Judged
    operation: Operation
    wanted_ms: Ms | None = None
    chance: float = 0.8

    def __post_init__(self) -> None:
        if not 0.0 < self.chance < 1.0:
            raise ValueError("a chance lies between 0 and 1")


def _late(at_ms: Ms | None) -> float:
    return float("inf") if at_ms is None else float(at_ms)


def start_of(work: Slabwork) -> Ms:
    """Return the first concrete of a pour: as long before the middle of its placing as the end comes after."""
    return 2 * work.placed_ms - work.end_ms


def moved(work: Slabwork, start_ms: Ms) -> Slabwork:
    """Return a pour that begins at another hour, with all that is laid on and heated."""
    by_ms = start_ms - start_of(work)

    def later(spans: Iterable[Span]) -> tuple[Span, ...]:
        return tuple(replace(s, from_ms=s.from_ms + by_ms, to_ms=min(s.to_ms + by_ms, FOR_EVER_MS)) for s in spans)

    return replace(
        work,
        placed_ms=work.placed_ms + by_ms,
        end_ms=work.end_ms + by_ms,
        covers=later(work.covers),
        heated=later(work.heated),
        forms_off_ms=min(work.forms_off_ms + by_ms, FOR_EVER_MS),
    )


def protected(work: Slabwork, by: Protection) -> Slabwork:
    """Return a pour with a protection in place of what it had."""

    def span(from_ms: Ms, hours: float | None, value: float) -> Span:
        return Span(from_ms, FOR_EVER_MS if hours is None else from_ms + round(hours * HOUR_MS), value)

    laid_ms = work.end_ms + round(by.cover_on_h * HOUR_MS)
    covers = (span(laid_ms, by.cover_for_h, by.cover_m2_k_per_w),) if by.cover_m2_k_per_w else ()
    heated = () if by.below_c is None else (span(start_of(work), by.below_for_h, by.below_c),)
    return replace(work, covers=covers, heated=heated)


def tried(
    cases: Sequence[tuple[Slabwork, Protection]], asked: Question, foresee: Foresee = foreseen
) -> tuple[Tried, ...]:
    """Return the answers of several cases."""
    works = [protected(work, by) for work, by in cases]
    told = foresee(works, [asked.judged] * len(works))
    return tuple(
        Tried(work, by, forecast, asked.operation, asked.wanted_ms, asked.chance)
        for work, (_, by), forecast in zip(works, cases, told, strict=True)
    )


def least_protection(work: Slabwork, asked: Question, offer: Offer, foresee: Foresee = foreseen) -> Found:
    """Return the least protection with which an operation is met by the wanted hour with the wanted chance.

    Args:
        work: the pour; what it is protected with is replaced.
        asked: operation, wanted hour and chance; without an hour, that it is met within the horizon at all.
        offer: what the site has.
        foresee: tells the hours of pours.
    """
    found: list[Tried] = []
    ladder = offer.protections()
    for begin in range(0, len(ladder), TOGETHER):
        found += tried([(work, by) for by in ladder[begin : begin + TOGETHER]], asked, foresee)
        for n, one in enumerate(found[begin:], begin):
            if one.meets:
                return Found(one, tuple(found[: n + 1]))
    return Found(None, tuple(found))


def best_start(
    work: Slabwork, by: Protection, asked: Question, starts_ms: Sequence[Ms], foresee: Foresee = foreseen
) -> Found:
    """Return the best hour to begin of several.

    With a wanted hour: the likeliest to meet it, of equal ones the earliest. Without: the one after whose end the
    forms are needed for the fewest hours.

    Args:
        work: the pour.
        by: its protection.
        asked: operation, wanted hour and chance.
        starts_ms: hours of the first concrete, ascending; one or more.
        foresee: tells the hours of pours.
    """
    found: list[Tried] = []
    for begin in range(0, len(starts_ms), TOGETHER):
        cases = [(moved(work, start_ms), by) for start_ms in starts_ms[begin : begin + TOGETHER]]
        found += tried(cases, asked, foresee)
    # max and min keep the first of equals.
    met = [one for one in found if one.meets]
    if not met:
        return Found(None, tuple(found))
    if asked.wanted_ms is not None:
        return Found(max(met, key=lambda one: one.chance or 0.0), tuple(found))
    return Found(min(met, key=lambda one: _late(one.ready_ms) - one.work.end_ms), tuple(found))
