"""How cold the concrete is foreseen to be: what a delay is put down to before the cold is there. Pure.

It is told, and is no input to a gate.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.maturity import Floats
from shared.models.base import HOUR_MS, Ms

WORTH_TELLING_MS: Final = HOUR_MS
"""So long below the limit, in the middle of what is foreseen (our judgement)."""


@dataclass(frozen=True, slots=True)
class ColdAhead:
    """The coldest required sensor as it is foreseen, in the middle of the members."""

    times_ms: NDArray[np.int64]
    """An equal step apart, shape (times,)."""
    middle_c: Floats
    """Shape (times,)."""

    def from_ms(self, limit_c: float, until_ms: Ms | None) -> Ms | None:
        """Return from when on it is below a limit; None: not for an hour before `until_ms`.

        Args:
            limit_c: of counted hours.
            until_ms: the expected hour; None: none is in sight, and the whole forecast counts.
        """
        # Not known is not warm.
        below = ~(self.middle_c >= limit_c)
        if until_ms is not None:
            below &= self.times_ms < until_ms
        cold, step_ms = np.flatnonzero(below), int(self.times_ms[1] - self.times_ms[0])
        return int(self.times_ms[cold[0]]) if len(cold) * step_ms >= WORTH_TELLING_MS else None
