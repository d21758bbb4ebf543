"""The defences against wrong hours, and how to switch each off; a logger's own clock: `defences_sensors`."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any, Final

import pytest
from apscheduler.jobstores.memory import MemoryJobStore
from switching import Switches, rewritten

import cure.scheduler
from alerts import hours
from cure.bay import BayEvidence
from ingest import columns, screening
from ingest.payloads import meaning
from shared.models import acts

FOREVER_MS: Final = 10**18


class TakenAsUtc:
    """Reads acts, an hour without its offset as UTC."""

    def __init__(self) -> None:
        self._adapter = acts._ADAPTER

    def validate_python(self, data: Mapping[str, Any]) -> acts.Act:
        """Return the act."""
        naive = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d")
        said = {k: f"{v}Z" if isinstance(v, str) and naive.fullmatch(v) else v for k, v in data.items()}
        return self._adapter.validate_python(said)


def hours_say_their_offset(patch: pytest.MonkeyPatch) -> None:
    """C4: an hour that comes in without its offset is no hour."""
    patch.setattr(acts, "_ADAPTER", TakenAsUtc())
    rewritten(patch, columns.Instants._aware, ("if self._place is None:", "if False:"))


def the_window_of_plausible_times(patch: pytest.MonkeyPatch) -> None:
    """C5: a time in another unit lies nowhere near now."""
    patch.setattr(meaning, "LATEST_S", math.inf)
    patch.setattr(screening, "AHEAD_MS", FOREVER_MS)


def a_clock_that_was_set_suspends(patch: pytest.MonkeyPatch) -> None:
    """C6, C7: it shuts every gate until the doubt is over."""
    patch.setattr("cure.rounds._jumped", lambda _: None)


def only_checked_time_has_passed(patch: pytest.MonkeyPatch) -> None:
    """C6: hours that the wall clock alone has seen earn nothing."""
    patch.setattr("cure.rounds.elapsed_ms", lambda spans, since_ms, _=None: max(0, spans[-1].to_ms - since_ms))


def ticks_do_not_wait_for_the_wall_clock(patch: pytest.MonkeyPatch) -> None:
    """C7: a clock that is put back stops no round."""
    patch.setattr(cure.scheduler._Jobs, "get_due_jobs", MemoryJobStore.get_due_jobs)


def no_age_is_negative(patch: pytest.MonkeyPatch) -> None:
    """C7: before its end a pour is not of less than no age."""
    age = "(self.now_ms - end) / HOUR_MS"
    rewritten(patch, BayEvidence.estimate, (f"max(0.0, {age})", age))


def hours_in_texts_keep_their_offset(patch: pytest.MonkeyPatch) -> None:
    """C10: of two hours that read the same in one night, each says which it is."""
    there = "return at.astimezone(ZoneInfo(zone))"
    rewritten(patch, hours.local, (there, f"{there}.replace(fold=0)"))


SWITCHES: Final[Switches] = {
    "C4": hours_say_their_offset,
    "C5": the_window_of_plausible_times,
    "C6": (a_clock_that_was_set_suspends, only_checked_time_has_passed),
    "C7": (a_clock_that_was_set_suspends, ticks_do_not_wait_for_the_wall_clock, no_age_is_negative),
    "C10": hours_in_texts_keep_their_offset,
}
