"""The telling of cold delays, in the unit the site lives in: the shift. It tells, and is no input to a gate.

Against the hour that a person wants: once when cold moves the expected hour to a later shift, again when that becomes
a still later one, once when it is back in time. Where nobody wants an hour: against the plan's own clock hours, once.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Final, Literal, TypeAlias

from cure.bay import AIR_ZONES
from cure.delay import Outlook, outlook, outlooks
from cure.work import ForeseenHours, Work
from shared.models.base import HOUR_MS, MINUTE_MS, STRIP, WALK, Json, Ms, Operation
from shared.models.decisions import GateState
from shared.models.messages import MessageKind
from shared.models.setup import SiteSettings
from shared.shifts import running_or_next

DELAY_STANDS_MS: Final = 30 * MINUTE_MS
"""Of evidence."""
TOLD_APART_MS: Final = 6 * HOUR_MS
"""Of one operation."""
WAITING: Final = frozenset({GateState.CURING, GateState.HOLD})
"""Neither met nor withdrawn, suspended or in people's hands."""

HELP_FACTS: Final = ("saves", "helps", "in_vain", "saves_by_ms", "help_cover_m2_k_per_w", "help_below_c")

Moved: TypeAlias = Literal["later", "back"]


@dataclass(frozen=True, slots=True)
class _Move:
    """From shift to shift, each by the hour at which it begins; None: no hour can be named."""

    moved: Moved
    from_shift_ms: Ms | None
    to_shift_ms: Ms | None


@dataclass(frozen=True, slots=True)
class _Told:
    """What has been told of one operation, and what may be next."""

    wanted_ms: Ms | None = None
    """What it was told against; None: the plan's clock hours."""
    tellings: int = 0
    at_ms: Ms | None = None
    late: bool = False
    """People believe that it comes later than wanted..."""
    shift_ms: Ms | None = None
    """... and in this shift."""
    pending: Moved | None = None
    since_ms: Ms = 0
    """Of the evidence: since when the pending one stands."""


def _shift(at_ms: Ms, site: SiteSettings) -> Ms:
    return running_or_next(at_ms, site.shift, site.zone).begins_ms


def _due(hours: Sequence[Ms], site: SiteSettings) -> Ms:
    """Return the shift in which an operation is due, by the hour at which it begins."""
    return max(_shift(h, site) for h in hours)


def _hours(look: Outlook, wanted_ms: Ms | None) -> list[Ms]:
    return [h for h in (wanted_ms, look.plan_ms) if h is not None]


def _move(look: Outlook, told: _Told, site: SiteSettings) -> _Move | None:
    """Return how the expected hour lies now to what people believe, if that is worth telling."""
    hours = _hours(look, told.wanted_ms)
    if not hours:
        return None
    # An hour wanted before the plan's own: only what lies behind both is the work of cold.
    due = _due(hours, site)
    place = None if look.expected_ms is None else _shift(look.expected_ms, site)
    late = look.cold and (place is None or place > due)
    if not told.late:
        return _Move("later", due, place) if late else None
    if told.wanted_ms is None:
        return None
    if not late:
        return None if place is None or place > due else _Move("back", told.shift_ms, place)
    if told.shift_ms is None:
        return None if place is None else _Move("later", due, place)
    # Cold for the night is no news while the shift that was told can still be kept.
    at_least = _shift(look.earliest_ms, site) if place is None else place
    return _Move("later", told.shift_ms, place) if at_least > told.shift_ms else None


def _saves(work: Work, operation: Operation, look: Outlook, move: _Move, wanted_ms: Ms | None) -> dict[str, Json]:
    """Return what saves the hour by the forecast, and until when somebody is there to do it; or what was reckoned and
    does not; without a forecast, what helps, and nobody knows by how much.
    """
    site, found = work.case.site.site, dict[str, Json](dict.fromkeys(HELP_FACTS))
    if move.moved == "back" or not (look.below or look.cold_from_ms):
        return found
    reckoned = work.standing.foretold.helps
    if reckoned is None or not work.now_ms < reckoned.by_ms:
        by_ms = running_or_next(work.now_ms, site.shift, site.zone).ends_ms
        return found if work.memory.get("covered") else {**found, "helps": "cover", "saves_by_ms": by_ms}
    due = _due(_hours(look, wanted_ms), site)
    left = {act: hours.get(operation) for act, hours in reckoned.left.items()}
    act = next((act for act, at_ms in left.items() if at_ms is not None and _shift(at_ms, site) <= due), None)
    if left:
        found |= {"help_cover_m2_k_per_w": reckoned.cover_m2_k_per_w, "help_below_c": reckoned.below_c}
    if act is not None:
        return {**found, "saves": act, "saves_by_ms": reckoned.by_ms}
    found["in_vain"] = list(left)
    # What stands in for a silent sensor is taken to be colder than the slab: its own readings would count for more.
    if any(p.required and p.zone not in AIR_ZONES for p in work.evidence.silent):
        found |= {"helps": "mend the silent logger", "saves_by_ms": reckoned.by_ms}
    return found


def _tell(work: Work, operation: Operation, look: Outlook, move: _Move, told: _Told) -> _Told:
    facts = {
        "plan_ms": look.plan_ms,
        "expected_ms": look.expected_ms,
        "counted_h": look.counted_h,
        "clock_h": look.clock_h,
        "limit_c": look.limit_c,
        "coldest_c": look.coldest_c,
        "cause": look.cause,
        "wanted_ms": told.wanted_ms,
        "from_shift_ms": move.from_shift_ms,
        "to_shift_ms": move.to_shift_ms,
        "moved": move.moved,
        **_saves(work, operation, look, move, told.wanted_ms),
    }
    tellings = told.tellings + 1
    work.tell(MessageKind.COLD_DELAY, operation, tellings, facts, operation=operation)
    late = move.moved == "later"
    return _Told(told.wanted_ms, tellings, work.now_ms, late, move.to_shift_ms if late else None)


def _follow(work: Work, operation: Operation, look: Outlook | None, told: _Told) -> _Told:
    through_ms = work.evidence.watermark_ms
    move = None if look is None else _move(look, told, work.case.site.site)
    if look is None or move is None or through_ms is None:
        return replace(told, pending=None)
    if told.pending != move.moved:
        return replace(told, pending=move.moved, since_ms=through_ms)
    apart_ms = TOLD_APART_MS if told.at_ms is None else work.now_ms - told.at_ms
    if through_ms - told.since_ms >= DELAY_STANDS_MS and apart_ms >= TOLD_APART_MS:
        return _tell(work, operation, look, move, told)
    return told


def _followed(work: Work) -> Iterator[tuple[Operation, Ms | None]]:
    """Yield each operation whose hour is told of, with the hour wanted; walk moves with strip."""
    wanted = work.memory.get("wanted", {})
    for operation in work.plan:
        if operation == STRIP or (operation != WALK and operation in wanted):
            yield operation, wanted.get(operation)


def _account(work: Work) -> None:
    """Add to the log line of a requirement that is now met how its hours were spent: the ledger adds them up."""
    for i, entry in enumerate(work.log):
        if entry.what == "gate" and entry.body["to"] == GateState.MET:
            look = outlook(work.evidence, Operation(entry.body["operation"]), work.plan)
            if look is not None:
                spent = {"plan_ms": look.plan_ms, "cold_h": look.cold_h, "unread_h": look.unread_h}
                work.log[i] = replace(entry, body={**entry.body, "hours": spent})


def _foreseen(work: Work, operation: Operation, look: Outlook | None) -> Outlook | None:
    """Return an outlook with the forecast's hour, and its cold, where there is one. It is told, and opens nothing."""
    hours, ahead = work.standing.foreseen.get(operation), work.standing.cold_ahead
    if look is None or hours is None:
        return look
    look = replace(look, expected_ms=hours.even_ms, cautious_ms=hours.cautious_ms)
    from_ms = None if ahead is None or look.below else ahead.from_ms(look.limit_c, hours.even_ms)
    if from_ms is None:
        return look
    in_h = max(0.0, (from_ms - work.now_ms) / HOUR_MS)
    said = f"concrete below the limit in {in_h:.1f} h, by the forecast"
    cause = f"{look.cause}; {said}" if look.cause else said
    return replace(look, cold=True, cold_from_ms=from_ms, cause=cause)


def keep_forecast(work: Work) -> None:
    """Keep what is foreseen of operations that wait, and what is said of it, to be shown. No gate reads it."""
    told, wanted = work.standing.foretold, work.memory.get("wanted", {})
    waiting = [op for op, gate in work.gates.items() if gate.state in WAITING]
    foreseen = work.standing.foreseen
    hours = {op: _kept(foreseen[op], wanted.get(op)) for op in waiting if op in foreseen and foreseen[op].waits_for}
    work.memory.pop("forecast", None)
    if waiting and (hours or told.none):
        work.memory["forecast"] = {"hours": hours, "notes": list(told.notes), "none": told.none}


def _kept(of: ForeseenHours, wanted_ms: Ms | None) -> dict[str, Json]:
    # Of hours beyond the horizon nothing is said: they count as not met.
    chance = None if wanted_ms is None else bisect_right(of.levels_ms, wanted_ms) / 100.0
    return {
        "early_ms": of.early_ms,
        "even_ms": of.even_ms,
        "cautious_ms": of.cautious_ms,
        "wanted_ms": wanted_ms,
        "wanted_chance": chance,
        "waits_for": dict(of.waits_for),
        "spread": dict(of.spread),
    }


def delays(work: Work) -> None:
    """Keep when each operation is expected, for board and lists, and tell of cold that moves a shift."""
    _account(work)
    keep_forecast(work)
    waiting = (operation for operation in work.plan if work.gates[operation].state in WAITING)
    looks = {op: _foreseen(work, op, look) for op, look in outlooks(work.evidence, waiting, work.plan).items()}
    work.memory["expected"] = {
        operation: {
            "expected_ms": look.expected_ms,
            "cautious_ms": look.cautious_ms,
            "plan_ms": look.plan_ms,
            "cause": look.cause,
        }
        for operation, look in looks.items()
        if look is not None
    }
    entries = work.memory.get("delay", {})
    kept = {}
    for operation, wanted_ms in _followed(work):
        told = _Told(**entries.get(operation, {}))
        if told.wanted_ms != wanted_ms:
            # Nothing has been said against this hour yet.
            told = _Told(wanted_ms, told.tellings, told.at_ms)
        told = _follow(work, operation, looks.get(operation), told)
        if told != _Told():
            kept[operation] = asdict(told)
    work.memory["delay"] = kept
