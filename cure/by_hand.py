"""Temperatures that a person measured with a contact probe: what they stand in for. Pure.

Only under insulation, at most 4 h apart, in the zone of the silent sensor. Between two of them the lower counts for the
whole of it; never more than the silent sensor's own ends, and never more than what else stands in.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from shared.errors import ActRefusedError
from shared.models.act_base import ms
from shared.models.acts_loggers import HandReading
from shared.models.base import HOUR_MS, MilliC, Ms
from shared.models.decisions import ByHand
from shared.models.readings import Series
from shared.models.setup import Zone
from shared.ports import PourCase
from shared.units import milli_c

LONGEST_APART_MS: Final = 4 * HOUR_MS
LATE_MS: Final = HOUR_MS
"""How long after it was measured a reading may be entered (our judgement)."""


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch between two readings that counts at one temperature."""

    from_ms: Ms
    to_ms: Ms
    milli_c: MilliC


def measured(act: HandReading, case: PourCase, now_ms: Ms) -> ByHand:
    """Return what a person measured.

    Raises:
        ActRefusedError: not during this pour, in the future, or more than an hour ago.
    """
    taken_ms = act.at_ms if act.happened is None else ms(act.happened)
    if not max(case.pour.start_ms, now_ms - LATE_MS) <= taken_ms <= now_ms:
        raise ActRefusedError("a reading by hand is entered within the hour, and after the start of its pour")
    return ByHand(taken_ms, milli_c(act.temperature_c), act.position, act.zone, act.under_insulation, act.who)


def lowered(every: Sequence[ByHand], by_milli_c: MilliC) -> list[ByHand]:
    """Return readings taken as so much colder."""
    return [replace(one, milli_c=one.milli_c - by_milli_c) for one in every]


def of_zone(every: Sequence[ByHand], zone: Zone, through: Ms) -> list[ByHand]:
    """Return those that may stand in for a sensor of a zone, in the order of time."""
    usable = (one for one in every if one.zone is zone and one.under_insulation and one.taken_ms <= through)
    return sorted(usable, key=lambda one: (one.taken_ms, one.milli_c))


def spans(inside: Sequence[ByHand], begin: tuple[Ms, MilliC], end: tuple[Ms, MilliC] | None) -> Iterator[Span]:
    """Yield the stretches of a silence that readings by hand answer for.

    Args:
        inside: of the zone, within the silence, in the order of time.
        begin: when it began, and the last value before it.
        end: when it ended, and the first value after it; None: it lasts.
    """
    most = begin[1] if end is None else min(begin[1], end[1])
    known = [begin, *((one.taken_ms, one.milli_c) for one in inside), *([] if end is None else [end])]
    for (from_ms, one), (to_ms, other) in pairwise(known if inside else []):
        if from_ms < to_ms <= from_ms + LONGEST_APART_MS:
            yield Span(from_ms, to_ms, min(one, other, most))


def capped(series: Series, every: Sequence[Span]) -> Series:
    """Return what else stands in, nowhere above what was measured."""
    value = series.milli_c.copy()
    for span in every:
        within = (series.taken_ms >= span.from_ms) & (series.taken_ms <= span.to_ms)
        value[within] = np.minimum(value[within], span.milli_c)
    return Series(series.taken_ms, value)


def filled(every: Sequence[Span], hole: tuple[Ms, Ms], interval_ms: int) -> Iterator[Series]:
    """Yield readings in a hole as a sensor would have sent them, each stretch at its one temperature.

    A millisecond inside its ends, so that no mean with a warmer end counts.
    """
    for span in every:
        first, last = max(span.from_ms, hole[0]) + 1, min(span.to_ms, hole[1]) - 1
        if first <= last:
            times = np.unique(np.append(np.arange(first, last, interval_ms, dtype=np.int64), last))
            yield Series(times, np.full(len(times), span.milli_c, np.int64))
