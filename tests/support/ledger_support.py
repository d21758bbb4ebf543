"""Pours whose hours were lost to cold, strength, signatures and crews, as the log of a site has them."""

from __future__ import annotations

from collections.abc import Iterator

from pages_support import SITE, Bench
from store_support import BAY, OTHER_BAY, T0, bay_dict, make_start

from shared.models.base import HOUR_MS, STRIP, Ms
from shared.models.decisions import GateState, LogEntry
from shared.models.setup import BaySettings

S = GateState
THIRD = "3-b1"
DUE_MS = T0 + 25 * HOUR_MS


def _line(pour: str, at_ms: Ms, before: GateState, after: GateState, **more: object) -> LogEntry:
    return LogEntry(at_ms, "qc", "gate", {"pour": pour, "operation": STRIP, "from": before, "to": after, **more})


def stripped(pour: str, *, cold_h: float, strength_h: float, to: GateState = S.DONE) -> Iterator[LogEntry]:
    """Yield the steps of a strip that was due at 13:00 in site time; signed, begun and done an hour apart."""
    met_ms = DUE_MS + round((cold_h + strength_h) * HOUR_MS)
    spent = {"plan_ms": DUE_MS, "cold_h": cold_h, "unread_h": 0.0}
    yield _line(pour, met_ms, S.CURING, S.MET, hours=spent, evidence_ms=met_ms)
    steps = ((S.MET, S.RELEASED), (S.RELEASED, S.UNDER_WAY), (S.UNDER_WAY, S.DONE))
    for n, (before, after) in enumerate(steps, 1):
        if to is S.MET:
            return
        yield _line(pour, met_ms + n * HOUR_MS, before, after)


def lost_hours(bench: Bench) -> None:
    """Let a bench have three pours on two floors: two stripped, one met and not signed yet."""
    bays = (bay_dict(BAY), bay_dict(OTHER_BAY, first_logger=11), bay_dict(THIRD, first_logger=21, floor="3"))
    of = tuple(BaySettings.model_validate(bay) for bay in bays)
    # Round the clock, so that each hour between met and begun counts.
    hours = SITE.site.model_copy(update={"shift": "00:00-00:00"})
    bench.board.of_site = SITE.model_copy(update={"bay": of, "site": hours})
    bench.board.done = [make_start(f"{bay.id}-p1", bay.id) for bay in of]
    bench.board.entries = [
        *stripped(f"{BAY}-p1", cold_h=6.0, strength_h=1.0),
        *stripped(f"{OTHER_BAY}-p1", cold_h=0.0, strength_h=2.5),
        *stripped(f"{THIRD}-p1", cold_h=3.0, strength_h=0.5, to=S.MET),
    ]
