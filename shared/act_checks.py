"""What every act is held against, whoever carries it out."""

from __future__ import annotations

from typing import Final

from shared.errors import ActRefusedError
from shared.models.acts import ActBase
from shared.models.base import Ms
from shared.models.setup import SiteFile

LATEST_MS: Final = 120_000
"""How far an act may lie ahead of the clock."""


def check_hour(act: ActBase, now: Ms) -> None:
    """Raise `ActRefusedError` for an act of an hour that has not come."""
    if act.at_ms > now + LATEST_MS:
        raise ActRefusedError("an act cannot be handed in before its time")


def check_bay(site: SiteFile, bay: str) -> None:
    """Raise `ActRefusedError` unless the site has a bay of that name."""
    names = [b.id for b in site.bay]
    if bay not in names:
        raise ActRefusedError(f"there is no bay {bay!r} in the site file; there are: {', '.join(names)}")
