"""Between which the numbers of a plan lie, however it is asked: by command, page or interface."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from shared.models.base import STRIP

RANGES: Final[Mapping[str, tuple[float, float]]] = {
    "pour_h": (0.25, 24.0),
    "placing_c": (0.0, 40.0),
    "thickness_mm": (30.0, 1500.0),
    "binder_kg": (100.0, 800.0),
    "water_binder": (0.2, 1.0),
    "fly_ash": (0.0, 0.6),
    "slag": (0.0, 0.8),
    "low_c": (-50.0, 55.0),
    "high_c": (-50.0, 55.0),
    "wind_m_s": (0.0, 40.0),
    "cover_r": (0.0, 10.0),
    "cover_on_h": (0.0, 120.0),
    "cover_for_h": (0.5, 500.0),
    "below_c": (0.0, 40.0),
    "below_for_h": (0.5, 500.0),
    "needs_h": (0.5, 2400.0),
    "needs_c": (0.0, 40.0),
    "needs_mpa": (1.0, 120.0),
    "chance": (0.01, 0.99),
    "every_h": (0.25, 24.0),
    "turnaround_h": (0.0, 240.0),
}
"""Of each number, between which it lies."""
USUAL: Final[Mapping[str, float]] = {
    "pour_h": 2.0,
    "placing_c": 18.0,
    "water_binder": 0.5,
    "fly_ash": 0.0,
    "slag": 0.0,
    "wind_m_s": 3.0,
    "cover_r": 0.0,
    "cover_on_h": 2.0,
    "chance": 0.8,
    "every_h": 1.0,
    "turnaround_h": 6.0,
}
"""What holds for a number that nobody says, or stands in the form before anybody has asked."""
OPERATION: Final = STRIP
MOST_STARTS: Final = 100
"""Of a window: each takes about a tenth of a second of a processor."""
MOST_POURS: Final = 30
"""After the first one of a sequence."""
MOST_SETS: Final = 20
MOST_COVERS: Final = 6
"""Also of temperatures to which the space below can be heated: each is tried with each."""
FARTHEST_D: Final = 366
"""A plan is of a pour within a year."""
