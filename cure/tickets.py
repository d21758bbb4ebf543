"""Tickets of a pour's trucks: what is entered of each, and what on them is a doubt about the concrete.

A ticket releases nothing and makes nothing earlier: the more is known of a truck, the more can only be doubted. The
limits are advice (see each); a person who knows better lifts the hold.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from cure.entered import END_AGREES_MS
from cure.limits import LIMITS
from cure.work import Work
from shared import units
from shared.errors import ActRefusedError
from shared.models import acts
from shared.models.base import HOUR_MS, MINUTE_MS
from shared.models.decisions import HoldKind
from shared.ports import PourCase

Kept = Mapping[str, Any]
"""A ticket as the pour's memory holds it: fields of the act, hours in ms."""
LONGEST_MS: Final = 90 * MINUTE_MS
"""From batching to placing: ASTM C94 before 2021, EN 206 for mixers that agitate (both from memory)."""
BATCHED_BEFORE_MS: Final = 12 * HOUR_MS
"""Nothing was batched so long before its pour began: a slip in the hour."""
COLDEST_C: Final = 5.0
"""Fresh concrete is 5 to 35 degC (common practice, no source)."""
AIR_ABOVE: Final = 1.5
"""ASTM C94: as ordered within 1.5 % (from memory). More air is weaker concrete; less is no doubt about strength."""
MOST: Final = 200
"""Trucks of one pour."""
SAID: Final = 3
"""Doubts that a hold names one by one."""
HOURS: Final = ("batched", "placed")


def keep(work: Work, act: acts.Ticket) -> None:
    """Take a ticket, in the place of one of the same number.

    Raises:
        ActRefusedError: its hours cannot be, its mix is none of the site, or there are too many.
    """
    start_ms, batched_ms = work.case.pour.start_ms, acts.ms(act.batched)
    placed_ms = act.at_ms if act.placed is None else acts.ms(act.placed)
    if not start_ms - BATCHED_BEFORE_MS <= batched_ms <= placed_ms <= max(work.now_ms, act.at_ms):
        raise ActRefusedError("a truck is batched before it is placed, for its pour, and not in the future")
    if placed_ms < start_ms:
        raise ActRefusedError("nothing of this pour was placed before its start: correct the hour, or the start")
    if act.mix not in {mix.id for mix in work.case.site.mix}:
        known = ", ".join(mix.id for mix in work.case.site.mix)
        raise ActRefusedError(f"there is no mix {act.mix!r} in the site file; there are: {known}")
    others = [t for t in of(work.memory) if t["number"] != act.number]
    if len(others) >= MOST:
        raise ActRefusedError(f"there are {MOST} tickets of {work.case.pour.id} already")
    said = act.model_dump(mode="json", exclude_none=True, exclude={"kind", "at", "pour", "scripted", *HOURS})
    kept = {**said, "at_ms": act.at_ms, "batched_ms": batched_ms, "placed_ms": placed_ms}
    work.memory["tickets"] = sorted([*others, kept], key=lambda t: (t["placed_ms"], t["number"]))
    doubt(work)


def of(memory: Mapping[str, Any]) -> Sequence[Kept]:
    """Return the tickets in a pour's memory, in the order of placing."""
    found: Sequence[Kept] = memory.get("tickets", [])
    return found


def doubt(work: Work) -> None:
    """Hold the pour for whatever is odd on its tickets and was not settled by a person."""
    found = [said for ticket in of(work.memory) for said in doubts_about(ticket, work.case)]
    settled = work.memory.get("tickets_settled", [])
    new = [said for said in found if said not in settled]
    if not new or HoldKind.TICKET in work.holds:
        return
    work.memory["tickets_doubted"] = new
    more = [f"{len(new) - SAID} more on the tickets"] if len(new) > SAID else []
    reason = "; ".join([*new[:SAID], *more])
    how = "find out what was delivered and test it; lifting it says that the calibration holds for this concrete"
    work.open_hold(HoldKind.TICKET, "qc", reason, how)


def settle(work: Work) -> None:
    """Note what a person answered for by lifting the hold: what it said, and nothing that came since."""
    doubted = work.memory.pop("tickets_doubted", [])
    work.memory["tickets_settled"] = [*work.memory.get("tickets_settled", []), *doubted]


def doubts_about(ticket: Kept, case: PourCase) -> Iterator[str]:
    """Yield what on a ticket is a doubt about the pour. What it does not say is none."""
    number = ticket["number"]
    if ticket["mix"] != case.pour.mix:
        yield f"the ticket {number} says {ticket['mix']}, {case.pour.mix} was entered"
    dose, calibrated = ticket.get("dose_class"), None if case.calibration is None else case.calibration.dose_class
    if dose is not None and calibrated is not None and _plain(dose) != _plain(calibrated):
        yield f"ticket {number}: dose class {dose}, calibrated for {calibrated}"
    yield from _of_water(ticket, case)
    if (minutes := _minutes(ticket)) * MINUTE_MS > LONGEST_MS:
        yield f"ticket {number}: {minutes} min from batching to placing"
    yield from _of_temperature(ticket, case)
    air, wanted = ticket.get("air_percent"), ticket.get("air_wanted_percent")
    if air is not None and wanted is not None and not air <= wanted + AIR_ABOVE:
        yield f"ticket {number}: {air:g} % of air, {wanted:g} % ordered"
    end_ms = case.pour.end_ms
    if end_ms is not None and ticket["placed_ms"] > end_ms + END_AGREES_MS:
        late = (ticket["placed_ms"] - end_ms) // MINUTE_MS
        yield f"ticket {number}: placed {late} min after the end of the pour that was entered"


def _of_water(ticket: Kept, case: PourCase) -> Iterator[str]:
    added, withheld = ticket.get("water_l"), ticket.get("withheld_l", 0.0)
    if added is not None and not added <= withheld:
        more, less = (units.shown(litres, "l", first=case.site.site.units, limit=False) for litres in (added, withheld))
        yield f"ticket {ticket['number']}: {more} of water added, {less} held back at the plant"


def _of_temperature(ticket: Kept, case: PourCase) -> Iterator[str]:
    found, first = ticket.get("temperature_c"), case.site.site.units
    if found is not None and not COLDEST_C <= found <= LIMITS["as delivered"].value:
        yield f"ticket {ticket['number']}: concrete at {units.shown(found, 'degC', first=first, limit=False)}"


def _minutes(ticket: Kept) -> int:
    return int(-(-(ticket["placed_ms"] - ticket["batched_ms"]) // MINUTE_MS))


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())
