"""What a logger says that nobody has placed, and how much of whom was refused: for people to see. Pure.

Its messages stay refused. Nothing here makes a sensor, or ties one to a bay: a person does, by placing it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ingest.payloads.decoded import Decoded
from ingest.topics import Route
from shared.models.readings import Reason, Refused, RefusedCount, Stranger


@dataclass(frozen=True, slots=True)
class Tally:
    """How many messages were refused, and for what most."""

    messages: int
    reason: Reason


def _read(routes: Sequence[Route], refused: Refused) -> tuple[str | None, Decoded]:
    """Return the logger that a topic names, and the message; a row that came by no message is empty."""
    for route in routes:
        told = route.told(refused.topic)
        if told is not None:
            return told.logger, route.decoder(told, refused.payload)
    return None, Decoded()


def stranger(routes: Sequence[Route], refused: Refused) -> Stranger:
    """Return what a refused message of an unplaced sensor says.

    Args:
        routes: of the site.
        refused: as it is kept, refused for an unknown sensor.
    """
    logger, said = _read(routes, refused)
    values = [r.milli_c for r in said.records if r.sensor == refused.sensor]
    values += [u.milli_c for u in said.untimed if u.sensor == refused.sensor]
    return Stranger(
        refused.sensor or logger or refused.topic,
        refused.received_ms,
        # Of several in one message the last: a buffer is sent oldest first.
        values[-1] if values else None,
        None if said.facts is None else said.facts.battery_percent,
        None if said.facts is None else said.facts.signal_db,
    )


def tallies(routes: Sequence[Route], counts: Sequence[RefusedCount]) -> Mapping[str, Tally]:
    """Return the refusals of each sensor, and of each logger what names no sensor; "" is all of them."""
    found: dict[str, Counter[Reason]] = {}
    for one in counts:
        logger = next((told.logger for route in routes if (told := route.told(one.topic)) is not None), None)
        for name in {"", one.sensor or logger or one.topic}:
            found.setdefault(name, Counter())[one.reason] += one.count
    return {name: _tally(reasons) for name, reasons in found.items()}


def _tally(reasons: Counter[Reason]) -> Tally:
    most = min(reasons, key=lambda reason: (-reasons[reason], reason))
    return Tally(reasons.total(), most)
