"""The chart of form sets over a sequence of pours: a row for each, what it waits for and when its set is free. Pure.

Every hour is expected; none is a release.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from cure.dashboard.layers import Chart, Line, Panel
from cure.dashboard.scales import Mark, hours_of
from cure.turnaround import Chain, Turn
from shared.models.base import HOUR_MS, Ms

MARGIN_MS: Final = 6 * HOUR_MS
STRETCHES: Final = ("waits", "under its forms", "set is moved")


def _hours(turn: Turn) -> tuple[Ms | None, ...]:
    return turn.planned_ms, turn.start_ms, turn.ready_ms, turn.free_ms


def _rows(chain: Chain) -> list[tuple[int, Turn]]:
    """Return the pours with their rows, counted from below."""
    return [(len(chain.turns) - n, turn) for n, turn in enumerate(chain.turns)]


def _stretches(chain: Chain) -> Iterator[Line]:
    """Yield what is drawn of all pours, a line for each stretch; it breaks between pours."""
    for n, name in enumerate(STRETCHES):
        x, y = [], []
        for row, turn in _rows(chain):
            begins_ms, ends_ms = _hours(turn)[n : n + 2]
            if begins_ms is not None and ends_ms is not None and begins_ms < ends_ms:
                x += [float(begins_ms), float(ends_ms), float(ends_ms)]
                y += [float(row), float(row), math.nan]
        if x:
            yield Line(name, np.array(x), np.array(y), n, "forecast" if n == 1 else "")


def chain_chart(chain: Chain, zone: str) -> Chart:
    """Return the chart of a sequence, by the site's clock; the first pour stands uppermost."""
    known = [at_ms for turn in chain.turns for at_ms in _hours(turn) if at_ms is not None]
    marks = tuple(Mark(float(row), f"{turn.bay}, {turn.form_set}") for row, turn in _rows(chain))
    panel = Panel(
        "bay, set: expected, not released", tuple(_stretches(chain)), least=0.5, most=len(marks) + 0.5, marks=marks
    )
    across = hours_of(zone, min(known) - MARGIN_MS, max(known) + MARGIN_MS)
    return Chart("sequence", "Form sets, expected, not released", across, (panel,))
