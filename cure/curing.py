"""How long young concrete must be kept moist, by standard: days at a temperature, and the share that is done.

What is counted are hours at a temperature, never days of the calendar: an hour without a reading counts for nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from cure.limits import Weight
from cure.maturity import Floats

DAY_H: Final = 24.0


@dataclass(frozen=True, slots=True)
class CuringRule:
    """Least days of curing, by temperature of the surface and development of strength."""

    least_ratio: tuple[float, ...]
    """Of each column: mean strength at 2 days by that at 28 days (rapid, medium, slow ...); falling."""
    days: tuple[tuple[float, tuple[float, ...]], ...]
    """From a temperature [degC] on: days for each column; rising."""
    weight: Weight
    source: str


_EN: Final = (0.5, 0.3, 0.15)
_EN_SOURCE: Final = "EN 13670, annex F (from memory)"
_ACI_SOURCE: Final = "ACI 308.1 and ACI 318, 26.5.3 (from memory); or until 70 % of the specified strength"


def _by_temperature(*days: tuple[float, ...]) -> tuple[tuple[float, tuple[float, ...]], ...]:
    return tuple(zip((5.0, 10.0, 15.0, 25.0), days, strict=True))


CURING: Final[dict[str, CuringRule]] = {
    "ACI 308": CuringRule((0.0,), ((10.0, (7.0,)),), Weight.RULE, _ACI_SOURCE),
    "ACI 308, high early strength": CuringRule((0.0,), ((10.0, (3.0,)),), Weight.RULE, _ACI_SOURCE),
    "EN 13670, class 2": CuringRule(
        _EN,
        _by_temperature((2.0, 5.0, 11.0), (1.5, 4.0, 8.0), (1.0, 2.5, 5.0), (1.0, 1.5, 2.5)),
        Weight.RULE,
        _EN_SOURCE,
    ),
    "EN 13670, class 3": CuringRule(
        _EN,
        _by_temperature((3.5, 9.0, 18.0), (2.5, 7.0, 12.0), (2.0, 4.0, 7.0), (1.5, 2.5, 3.5)),
        Weight.RULE,
        _EN_SOURCE,
    ),
    "EN 13670, class 4": CuringRule(
        _EN,
        _by_temperature((9.0, 18.0, 30.0), (7.0, 13.0, 21.0), (5.0, 9.0, 12.0), (3.0, 5.0, 6.0)),
        Weight.RULE,
        _EN_SOURCE,
    ),
    "DIN 1045-3": CuringRule(
        (*_EN, 0.0),
        _by_temperature((3.0, 6.0, 10.0, 15.0), (2.0, 4.0, 7.0, 10.0), (1.0, 2.0, 4.0, 5.0), (1.0, 2.0, 2.0, 3.0)),
        Weight.RULE,
        "DIN 1045-3 (read in a secondary copy); hours below 5 degC lengthen it one for one",
    ),
}


def required_h(rule: CuringRule, temperature_c: Floats, *, ratio: float | None) -> Floats:
    """Return the hours of curing that a rule wants at a temperature, shape (n,); infinite where it gives none.

    Args:
        rule: one of `CURING`.
        temperature_c: of the surface, shape (n,). [degC]
        ratio: mean strength at 2 days by that at 28 days; None: not known, which is the slowest that the rule knows.
    """
    slowest = len(rule.least_ratio) - 1
    column = slowest if ratio is None else next((i for i, r in enumerate(rule.least_ratio) if ratio >= r), None)
    found = np.full(len(temperature_c), np.inf)
    if column is not None:
        for from_c, days in rule.days:
            found[temperature_c >= from_c] = days[column] * DAY_H
    return found


def cured_share(rule: CuringRule, span_h: Floats, coldest_c: Floats, *, ratio: float | None) -> float:
    """Return the share of the curing that is done; 1 and above: done.

    Each stretch counts by what the rule wants at its coldest; adding shares over the rule's temperatures is our
    judgement. A stretch that is not known, or colder than the rule's lowest, counts for nothing.

    Args:
        rule: one of `CURING`.
        span_h: length of each stretch, shape (n,). [h]
        coldest_c: the coldest that the surface may have been in it, shape (n,); NaN: not known. [degC]
        ratio: as in `required_h`.
    """
    # Rounded once: in another order of adding a stretch more could be a last bit less.
    return math.fsum(span_h / required_h(rule, coldest_c, ratio=ratio))
