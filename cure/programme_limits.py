"""Between which the numbers of a laboratory's programme lie, however it is handed in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

RANGES: Final[Mapping[str, tuple[int, int]]] = {
    "narrow_to_percent": (6, 30),
    "narrow_from": (4, 100),
    "batch_sd_percent": (10, 30),
}
"""Of each number of how a pour's own cylinders count."""
THRESHOLD_MPA: Final = (1, 120)
"""As in a requirement (`shared.models.requirement`)."""
MOST_THRESHOLDS: Final = 8
"""Each is a line of the chart."""
