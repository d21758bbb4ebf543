"""To what the hours of an operation were lost. Pure, from the log's lines alone; what is not known stays None.

An operation is due at the plan's clock hour, or at the hour wanted where that is later. Lost is what lies behind it:

- until the requirement is met, by the clock: first `cold`, the hours below the limit; then `data`, the hours without
  readings and those by which the evidence came late; the rest is `mix`, strength that came after the hours were there
  (the 30 min through which it must stand included);
- until it is signed: `signature`, and until the crew begins: `crew`; both only inside the site's shifts.

The five are the whole, to the millisecond.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Final

from shared.models.base import HOUR_MS, Json, Ms
from shared.models.decisions import GateState, LogEntry
from shared.models.setup import SiteSettings
from shared.shifts import running_or_next

S: Final = GateState


@dataclass(frozen=True, slots=True)
class Lost:
    """Milliseconds lost, by what they were lost to; None: not known, or not yet."""

    cold_ms: int | None = None
    mix_ms: int | None = None
    data_ms: int | None = None
    signature_ms: int | None = None
    crew_ms: int | None = None

    @property
    def parts(self) -> tuple[int | None, ...]:
        """The five, in the order of the fields."""
        return (self.cold_ms, self.mix_ms, self.data_ms, self.signature_ms, self.crew_ms)

    @property
    def whole_ms(self) -> int | None:
        """Their sum; None while one of them is not known."""
        known = [p for p in self.parts if p is not None]
        return sum(known) if len(known) == len(self.parts) else None

    def to_json(self) -> dict[str, Json]:
        """Return it as a JSON object, with the sum."""
        return {**asdict(self), "whole_ms": self.whole_ms}


@dataclass(frozen=True, slots=True)
class Steps:
    """The steps of a gate that the ledger keeps."""

    met: LogEntry | None = None
    signed_ms: Ms | None = None
    begun_ms: Ms | None = None
    done_ms: Ms | None = None


def inside_shifts_ms(from_ms: Ms, to_ms: Ms, site: SiteSettings) -> int:
    """Return how much of a stretch lies inside the site's shifts; none when it ends before it begins."""
    inside, at_ms = 0, from_ms
    while at_ms < to_ms:
        shift = running_or_next(at_ms, site.shift, site.zone)
        inside += max(0, min(shift.ends_ms, to_ms) - max(shift.begins_ms, at_ms))
        at_ms = shift.ends_ms
    return inside


def steps_of(lines: Sequence[LogEntry]) -> Steps:
    """Return the steps that led to the first beginning; before there is one, the newest."""
    met, signed_ms, begun_ms, done_ms = None, None, None, None
    for line in lines:
        before, after = line.body["from"], line.body["to"]
        if after == S.DONE and before != S.DONE and done_ms is None:
            done_ms = line.at_ms
        elif begun_ms is None and done_ms is None:
            if after == S.MET:
                met, signed_ms = line, None
            elif (before, after) == (S.MET, S.RELEASED):
                signed_ms = line.at_ms
            elif after == S.UNDER_WAY and before in {S.MET, S.RELEASED}:
                begun_ms = line.at_ms
            elif after in {S.WITHDRAWN, S.CURING, S.HOLD, S.NOT_SET_UP}:
                met, signed_ms = None, None
    return Steps(met, signed_ms, begun_ms, done_ms)


def _evidence(met: LogEntry, due_ms: Ms) -> tuple[int, int, int] | None:
    """Return (cold, mix, data) of the time from the hour due to the one at which it was met."""
    spent, evidence_ms = met.body.get("hours"), met.body.get("evidence_ms")
    if spent is None or evidence_ms is None:
        return None
    late_ms = max(0, met.at_ms - due_ms)
    cold_ms = min(late_ms, round(spent["cold_h"] * HOUR_MS))
    unread_ms = round(spent["unread_h"] * HOUR_MS) + max(0, met.at_ms - evidence_ms)
    data_ms = min(late_ms - cold_ms, unread_ms)
    return cold_ms, late_ms - cold_ms - data_ms, data_ms


def lost(steps: Steps, due_ms: Ms | None, site: SiteSettings) -> Lost:
    """Return what was lost behind the hour at which an operation was due; None: no hour was."""
    if steps.met is None or due_ms is None:
        return Lost()
    cold_ms, mix_ms, data_ms = _evidence(steps.met, due_ms) or (None, None, None)
    signature_ms, crew_ms = None, None
    met_ms = max(due_ms, steps.met.at_ms)
    # Begun without a signature: the site's policy asked for none.
    signed_ms = met_ms if steps.signed_ms is None and steps.begun_ms is not None else steps.signed_ms
    if signed_ms is not None:
        signature_ms = inside_shifts_ms(met_ms, signed_ms, site)
        if steps.begun_ms is not None:
            crew_ms = inside_shifts_ms(max(due_ms, signed_ms), steps.begun_ms, site)
    return Lost(cold_ms, mix_ms, data_ms, signature_ms, crew_ms)
