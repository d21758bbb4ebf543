"""A handover set: every record of a floor, or of a bay, in one PDF, behind a sheet that says which still stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from typing import Final

from cure.dashboard.record import printed_set, set_document
from cure.dashboard.record_facts import SIGNED_BY, Source, Table, decision_line
from cure.dashboard.standing import Standing
from shared.models.base import Json, Ms
from shared.models.setup import SiteSettings
from shared.shifts import site_hour

SAID: Final[Mapping[Standing, str]] = {
    Standing.STANDS: "stands",
    Standing.KEEP_OFF: "KEEP OFF: stripping beside or below",
    Standing.EXPIRED: "VOID: its hour is past",
    Standing.DOUBTED: "IN DOUBT: not released",
    Standing.FALLEN: "DOES NOT STAND ANY MORE",
    Standing.SHUT: "shut still",
    Standing.OVER: "over; releases nothing",
}
"""One line a standing: one without words fails."""
_HEAD: Final = ("record", "bay", "pour", "hour", "decision", "check code", "now")


@dataclass(frozen=True, slots=True)
class Handover:
    """Everything that a set is made of."""

    of: str
    """Such as "floor 2"."""
    site: SiteSettings
    at_ms: Ms
    """At which its standings were looked up."""
    records: Sequence[tuple[Source, Standing]]
    """One or more, as they stand behind one another."""
    last: str
    """The caution that stands on everything."""


def render_handover(handover: Handover) -> bytes:
    """Return the set as a PDF; the same input gives the same bytes."""
    sheets, files = printed_set([source for source, _ in handover.records])
    at = datetime.fromtimestamp(handover.at_ms // 1000, UTC)
    return set_document(f"Handover set, {handover.of}", at, [_cover(handover), *sheets], files)


def _cover(handover: Handover) -> Mapping[str, Json]:
    site = handover.site
    rows = tuple(
        (
            str(source.message.no),
            str(source.message.facts["bay"]),
            source.message.pour,
            site_hour(source.message.at_ms, site.zone),
            decision_line(source.message),
            source.message.code or "none",
            SAID[standing],
        )
        for source, standing in handover.records
    )
    hour = site_hour(handover.at_ms, site.zone)
    return {
        "title": f"Handover set, {handover.of}",
        "site": site.name,
        "paper": "us-letter" if site.units == "US" else "a4",
        "shut": False,
        "verdict": f"{len(rows)} records",
        "about": f"What became of each, as of {hour}",
        "findings": [],
        "requirement": "",
        "rows_title": "The set",
        "rows": [["As of", hour], ["Kept inside", "the decision of each record, and its readings"]],
        "tables": [asdict(Table("Records", _HEAD, (2, 2, 3, 4, 6, 2, 4), rows, "None."))],
        "pictures": [],
        "cautions": ["The sheets behind this one say what was decided at their hour.", handover.last],
        "signed_by": list(SIGNED_BY),
        "foot": f"as of {hour}",
        "code": "",
        "code_words": "",
    }
