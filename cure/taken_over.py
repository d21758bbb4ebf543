"""A shift taken over: who has read what stands. It is written down, and judges nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from cure.press import HANDS
from cure.roles import check_role
from shared.act_checks import check_hour
from shared.errors import ActRefusedError, StoreError
from shared.models import acts
from shared.models.base import DAY_MS, HOUR_MS, Ms
from shared.models.decisions import LogEntry
from shared.models.setup import SiteFile
from shared.ports import CureBook
from shared.shifts import ShiftHours, running_or_next

KIND: Final = "take_over"
EARLY_MS: Final = 2 * HOUR_MS
"""So long before the shift before it ends it can be taken over (our judgement)."""


@dataclass(frozen=True, slots=True)
class Change:
    """A shift, and who has taken it over."""

    shift: ShiftHours
    taken: tuple[acts.TakeOver, ...]
    """The oldest first; none: nobody has."""


def change(takings: Iterable[acts.Act], shift: str, zone: str, now: Ms) -> Change:
    """Return the shift that is running, or else the next one, and who has taken it over.

    Args:
        takings: acts, in order.
        shift: of the site, from-to in site time.
        zone: IANA time zone of the site.
        now: site time.
    """
    hours = running_or_next(now, shift, zone)
    before = running_or_next(hours.begins_ms - DAY_MS, shift, zone)
    from_ms = min(hours.begins_ms, before.ends_ms) - EARLY_MS
    return Change(hours, tuple(a for a in takings if isinstance(a, acts.TakeOver) and from_ms <= a.at_ms <= now))


def take_over(site: SiteFile, book: CureBook, now: Ms, act: acts.TakeOver) -> None:
    """Write down that somebody has taken the shift over.

    Raises:
        ActRefusedError: it cannot be accepted, and why.
    """
    check_hour(act, now)
    check_role(site, act, HANDS)
    try:
        book.act_on_site(act, LogEntry(now, act.who, "act", acts.act_to(act)))
    except StoreError as error:
        raise ActRefusedError(str(error)) from error
