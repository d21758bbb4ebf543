"""Time that has really passed, from how the service's own clock has run. Pure.

Within one boot only the time since boot counts, suspend included: a wall clock that is set to another hour earns
nothing and takes nothing away. Across a reboot nobody counted: the smaller of what the wall clock and the loggers say.
Where anything is doubtful the answer is too small, never too large (but for the 5 s a wall clock may be slewed by).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import pairwise
from typing import Final

from shared.models.base import Ms
from shared.models.decisions import ClockSpan

JUMP_MS: Final = 5_000
"""A wall clock that has moved by more against the time since boot was set, not slewed."""
SANE_FROM_MS: Final[Ms] = 1_704_067_200_000
"""2024-01-01T00:00Z: an earlier hour is that of a machine that does not know it."""
KEPT: Final = 200
"""Spans kept: an older hour counts as if nobody had watched the clock then."""


@dataclass(frozen=True, slots=True)
class Look:
    """One look at the machine's clocks."""

    wall_ms: Ms
    boot: str
    boot_ms: int
    """Since boot, suspend included. [ms]"""
    synchronised: bool


@dataclass(frozen=True, slots=True)
class Spans:
    """How the clock has run up to a look, and whether it was found set."""

    spans: tuple[ClockSpan, ...]
    """Oldest first; the last one ends at the look."""
    jump_ms: int = 0
    """By how much the wall clock was set since the look before, within one boot; 0: it was not."""


def seen(spans: Sequence[ClockSpan], look: Look) -> Spans:
    """Return the spans with a look added: the last one grows, or a new one begins at a new boot or at a jump."""
    last = spans[-1] if spans else None
    new = ClockSpan(look.boot, look.wall_ms, look.boot_ms, look.wall_ms, look.boot_ms, look.synchronised)
    if last is None or not _same_boot(last, look):
        return Spans((*spans, new)[-KEPT:])
    moved = (look.wall_ms - look.boot_ms) - (last.from_ms - last.from_boot_ms)
    if abs(moved) > JUMP_MS:
        return Spans((*spans, new)[-KEPT:], moved)
    # Once known to be right it stays so: a clock that nobody corrects any more is still not set.
    right = last.synchronised or look.synchronised
    grown = replace(last, to_ms=look.wall_ms, to_boot_ms=look.boot_ms, synchronised=right)
    return Spans((*spans[:-1], grown))


def _same_boot(last: ClockSpan, look: Look) -> bool:
    # Time since boot cannot run back: an equal name with less of it is another boot.
    return last.boot == look.boot and look.boot_ms >= last.to_boot_ms


def why_insane(look: Look) -> str | None:
    """Return why a clock cannot be right whoever vouches for it."""
    if look.wall_ms >= SANE_FROM_MS:
        return None
    return f"the service's clock says {datetime.fromtimestamp(look.wall_ms / 1000, UTC).year}"


def jump_words(jump_ms: int) -> str:
    """Return what happened to a clock that was set."""
    way, s = ("ahead", jump_ms / 1000) if jump_ms > 0 else ("back", -jump_ms / 1000)
    units = ((86_400, "days"), (3600, "h"), (60, "min"), (1, "s"))
    size, unit = next((size, unit) for size, unit in units if s >= 2 * size or size == 1)
    return f"the service's clock jumped {way} by {s / size:.1f} {unit}"


def elapsed_ms(spans: Sequence[ClockSpan], since_ms: Ms, vouched_ms: Ms | None = None) -> int:
    """Return the time that has certainly passed since an instant by the wall clock. [ms]

    Args:
        spans: from `seen`; the last one ends now.
        since_ms: by the wall clock as it went then.
        vouched_ms: an hour that the loggers' own clocks have reached; None: no logger can say.
    """
    if not spans:
        return 0
    whole = max(0, spans[-1].to_ms - since_ms)
    ends = _known_ends(spans)
    passed = 0
    for k in reversed(range(len(spans))):
        span = spans[k]
        if span.from_ms <= since_ms <= span.to_ms:
            return min(whole, passed + _within(span, since_ms))
        passed += span.to_boot_ms - span.from_boot_ms
        in_hole = k == 0 or _between(spans, k, since_ms)
        if k and _one_boot(spans[k - 1], span):
            dark = span.from_boot_ms - spans[k - 1].to_boot_ms
            passed += min(dark, span.from_ms - since_ms) if in_hole else dark
        else:
            end = since_ms if k == 0 else ends[k - 1]
            passed = passed if end is None else _over_hole(spans, k, passed, max(since_ms, end), vouched_ms)
        if in_hole:
            break
    return min(whole, passed)


def _between(spans: Sequence[ClockSpan], k: int, since_ms: Ms) -> bool:
    """Return whether an instant lies just before a span, and no clock ever showed it."""
    shown = any(s.from_ms <= since_ms <= s.to_ms for s in spans[:k])
    return not shown and spans[k - 1].to_ms < since_ms < spans[k].from_ms


def _one_boot(before: ClockSpan, after: ClockSpan) -> bool:
    return before.boot == after.boot and after.from_boot_ms >= before.to_boot_ms


def _within(span: ClockSpan, since_ms: Ms) -> int:
    by_start = span.to_boot_ms - span.from_boot_ms - (since_ms - span.from_ms)
    return max(0, min(by_start, span.to_ms - since_ms))


def _over_hole(spans: Sequence[ClockSpan], k: int, passed: int, hole_from: Ms, vouched_ms: Ms | None) -> int:
    """Return what has passed since an hour before boot `k` began, when so much has passed since its beginning."""
    began_ms, synchronised = _began(spans, k)
    wall = max(0, began_ms - hole_from)
    if vouched_ms is None:
        return passed + (wall if synchronised else 0)
    return max(passed, min(passed + wall, vouched_ms - hole_from))


def _began(spans: Sequence[ClockSpan], k: int) -> tuple[Ms, bool]:
    """Return the wall clock's hour at the beginning of a boot, and whether it is known to be right.

    A machine that boots in 1970 learns the hour later: then its time since boot leads back. Otherwise the earliest.
    """
    boot = [spans[k]]
    for before, after in pairwise(spans[k:]):
        if not _one_boot(before, after):
            break
        boot.append(after)
    first = spans[k].from_boot_ms
    right = [s.from_ms - (s.from_boot_ms - first) for s in boot if s.synchronised]
    return min(right or [s.from_ms - (s.from_boot_ms - first) for s in boot]), bool(right)


def _known_ends(spans: Sequence[ClockSpan]) -> list[Ms | None]:
    """Return the hour at which each span ended, late rather than early; None: nobody knows.

    By the wall clock, or by the latest hour that was known before and the time since boot, whichever is later: a clock
    that was put back must not make a hole longer than it was. Of a boot that began before the last one ended, or in
    1970, nothing is known until the clock is synchronised.
    """
    ends: list[Ms | None] = []
    for k, span in enumerate(spans):
        before = ends[-1] if ends else span.from_ms
        same = k > 0 and _one_boot(spans[k - 1], span)
        behind = span.from_ms < SANE_FROM_MS or (before is not None and span.from_ms < before)
        if span.synchronised:
            ends.append(span.to_ms)
        elif before is None or (behind and not same):
            ends.append(None)
        else:
            dark = span.from_boot_ms - spans[k - 1].to_boot_ms if same else 0
            ends.append(max(before + dark + span.to_boot_ms - span.from_boot_ms, span.to_ms))
    return ends
