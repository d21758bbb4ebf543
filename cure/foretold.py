"""What is told of a forecast beside its hours. Values only: whoever judges may hold them, and reads none of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shared.models.base import Ms, Operation


@dataclass(frozen=True, slots=True)
class Helps:
    """What would bring late operations on."""

    by_ms: Ms
    """Until when it is done."""
    left: Mapping[str, Mapping[Operation, Ms | None]]
    """Of each thing that can be done, the least first, the hour of even chance that it leaves; None: none near
    the hour that is wanted."""
    cover_m2_k_per_w: float
    below_c: float
    """With what cover, and what heat below, it was reckoned."""


@dataclass(frozen=True, slots=True)
class Foretold:
    """What is said of a pour's newest forecast."""

    notes: tuple[str, ...] = ()
    """Why it is wider than it might be."""
    none: str = ""
    """Why there is none, and how to mend that; "": there is one, or nobody has looked yet."""
    helps: Helps | None = None
    """None: nothing is late, or nobody has reckoned it."""
