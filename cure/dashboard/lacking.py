"""What bays lack before they can be poured, short enough to stand on the board. Pure; it releases nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from cure.dashboard.reader import Reader
from cure.dashboard.ready import Item, Known, ready
from shared.models.base import Ms
from shared.models.setup import BaySettings

MOST: Final = 6
"""Bays that the board names: those that somebody has begun to make ready come first."""


@dataclass(frozen=True, slots=True)
class Lacks:
    """What the bays without an open pour lack."""

    bays: tuple[tuple[str, str], ...] = ()
    """Of the first of them: its name, and what it lacks in few words."""
    more: int = 0
    """How many others lack something."""


NOTHING: Final = Lacks()


def lacking(bays: Sequence[BaySettings], known: Known, now_ms: Ms, reader: Reader) -> Lacks:
    """Return what bays lack.

    Args:
        bays: those without an open pour, as the site file has them.
        known: what the stores hold.
        now_ms: site time.
        reader: whose words it is in.
    """
    begun = {p.bay for p in known.placements if p.to_ms is None}
    lists = [(bay, [item for item in ready(bay, known, now_ms, reader) if not item.there]) for bay in bays]
    found = [(bay, items) for bay, items in lists if items]
    first = sorted(found, key=lambda of: of[0].bay_id not in begun)[:MOST]
    named = tuple((bay.id, _said(items, reader)) for bay, items in first)
    return Lacks(named, len(found) - len(named))


def _said(items: Sequence[Item], reader: Reader) -> str:
    keys = [item.key for item in items]
    # Where no sensor lies none can be heard.
    return ", ".join(reader.say(f"lack-{key}") for key in keys if not (key == "heard" and "placed" in keys))
