"""The service's clock under watch: a jump within one boot, an insane hour, a day without synchronisation."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from shared.clock import look
from shared.elapsed import jump_words, seen, why_insane
from shared.models.base import DAY_MS, HOUR_MS, MINUTE_MS
from shared.models.decisions import ClockSpan
from shared.ports import Clock

LOG: Final = logging.getLogger(__name__)
SETTLED_MS: Final = 10 * MINUTE_MS
WARN_MS: Final = HOUR_MS
DOUBT_MS: Final = DAY_MS
KEEP_EVERY_MS: Final = 10 * MINUTE_MS
"""Of what is not stored when the host goes down only the loggers can tell; a commit each second would cost more."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What one look at the clock has shown."""

    spans: tuple[ClockSpan, ...]
    boot_ms: int
    doubt: str | None
    """Why the clock cannot be believed."""
    unsynchronised: bool
    """The site wants it synchronised, and it is not."""
    settled: bool
    """It has been synchronised for 10 min without a doubt; never where nobody checks."""
    keep: bool
    """The spans should be stored now."""


class ClockWatch:
    """Remembers since when the clock has been good, or not synchronised."""

    def __init__(self, *, required: bool) -> None:
        self._required = required
        self.spans: tuple[ClockSpan, ...] = ()
        self._kept_boot_ms: int | None = None
        self._good_from: int | None = None
        self._lost_from: int | None = None
        self._warned = False

    def begin(self, spans: Sequence[ClockSpan]) -> None:
        """Go on from the spans that are stored."""
        self.spans = tuple(spans)

    def look(self, clock: Clock) -> Seen:
        """Return what the clock shows; call `done` once all that follows from it is stored."""
        now = look(clock)
        grown = seen(self.spans, now)
        unsynchronised = self._required and not now.synchronised
        lost_ms = 0 if self._lost_from is None or not unsynchronised else now.boot_ms - self._lost_from
        doubt = why_insane(now)
        if doubt is None and grown.jump_ms:
            doubt = jump_words(grown.jump_ms)
        if doubt is None and lost_ms > DOUBT_MS:
            doubt = "the service's clock has not been synchronised for a day"
        good_ms = 0 if doubt is not None or unsynchronised or self._good_from is None else now.boot_ms - self._good_from
        kept = self._kept_boot_ms
        return Seen(
            spans=grown.spans,
            boot_ms=now.boot_ms,
            doubt=doubt,
            unsynchronised=unsynchronised,
            settled=self._required and good_ms >= SETTLED_MS,
            keep=len(grown.spans) != len(self.spans) or kept is None or not kept <= now.boot_ms < kept + KEEP_EVERY_MS,
        )

    def done(self, seen_: Seen) -> None:
        """Take a look over."""
        self.spans = seen_.spans
        if seen_.keep:
            self._kept_boot_ms = seen_.boot_ms
        if seen_.doubt is not None or seen_.unsynchronised:
            self._good_from = None
        elif self._good_from is None:
            self._good_from = seen_.boot_ms
        if not seen_.unsynchronised:
            self._lost_from, self._warned = None, False
        elif self._lost_from is None:
            self._lost_from = seen_.boot_ms
        elif not self._warned and seen_.boot_ms - self._lost_from > WARN_MS:
            self._warned = True
            LOG.warning("the service's clock has not been synchronised for an hour: nothing is released until it is")
