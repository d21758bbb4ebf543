"""Help: what signs and words mean. Anybody may read it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from starlette.responses import Response

from cure.dashboard.asked import Asked, Parts
from cure.dashboard.rendering import page
from cure.dashboard.signs import SIGNS

WORDS: Final = (
    *("bay", "pour", "mix", "cylinder-break", "calibration", "verification", "logger", "placement", "zone", "reading"),
    *("gap", "maturity", "equivalent-age", "counted-hours", "strength-in-place", "lower-bound", "requirement"),
    *("finding", "hold", "sign-off", "release", "withdrawal", "stop", "freeze-lock", "forecast", "record"),
)
"""Ids of words that are explained, in the order of the work."""


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    del parts  # It asks nobody.
    return {("GET", "/help"): lambda asked: page(asked, "help.html", signs=SIGNS, explained=WORDS)}
