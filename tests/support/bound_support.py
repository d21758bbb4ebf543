"""How many mixes and pours of the benchmark of the bound the tests judge.

600 of the 2000 mixes and 120 of the 400 pours: 99 of 100 bounds are held where 88 must be, so a bound that is held too
seldom shows in a third of them as well. `FAULT_SCALE=4` judges all, as `python -m deploy.bench.bound` does.
"""

from __future__ import annotations

from typing import Final

from scale import SCALE

from deploy.bench.bound import MIXES, POURS

JUDGED: Final = min(MIXES, max(600, round(600 * SCALE)))
"""Mixes fit for release."""
POURED: Final = min(POURS, max(120, round(120 * SCALE)))
"""Of them, pours from end to end."""
