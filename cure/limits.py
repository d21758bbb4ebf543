"""Published limits on the condition of young concrete, beside strength: what each is, where it stands, whom it binds.

A limit is a rule where a specification or standard sets it that a contract can bind; advice where a guide, common
practice or our own judgement does. "From memory" means: check against the document before relying on it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from shared.units import Unit


class Weight(StrEnum):
    """Whom a limit binds."""

    RULE = "rule"
    ADVICE = "advice"


@dataclass(frozen=True, slots=True)
class Limit:
    """One published limit."""

    value: float
    unit: Unit
    at_least: bool
    """The found value must be at least this; else at most."""
    weight: Weight
    source: str

    def kept(self, found: float) -> bool:
        """Return whether a value keeps the limit; one that is no number does not."""
        return found >= self.value if self.at_least else found <= self.value


def _most(value: float, unit: Unit, weight: Weight, source: str) -> Limit:
    return Limit(value, unit, at_least=False, weight=weight, source=source)


def _least(value: float, unit: Unit, weight: Weight, source: str) -> Limit:
    return Limit(value, unit, at_least=True, weight=weight, source=source)


_OURS: Final = "our judgement"
_ACI_306_1: Final = "ACI 306.1-90 (read in a summary of its protection period)"
_ACI_306R: Final = "ACI 306R"
_PCA: Final = "PCA, Design and Control of Concrete Mixtures, chapter 14 (read in a summary)"
_ADVICE, _RULE = Weight.ADVICE, Weight.RULE

LIMITS: Final[dict[str, Limit]] = {
    # Early freezing.
    "strength before freezing": _least(
        3.5, "MPa", _ADVICE, f"{_PCA}: one cycle is tolerable from 500 psi; no immunity"
    ),
    "strength before freezing, EN 13670": _least(5.0, "MPa", _RULE, "EN 13670 (from memory)"),
    "top sensor below that strength": _least(1.0, "degC", _ADVICE, _OURS),
    "any sensor below that strength": _least(0.5, "degC", _ADVICE, _OURS),
    "mid-depth below it, no top sensor": _least(3.0, "degC", _ADVICE, _OURS),
    # Coldest and hottest, and how far apart.
    "hottest": _most(70.0, "degC", _RULE, "EN 13670, 8.5 (from memory); ACI 301-20 for mass concrete, 160 degF (read)"),
    "between sensors": _most(20.0, "degC apart", _ADVICE, "common practice, no source"),
    "centre to surface, mass concrete": _most(19.4, "degC apart", _RULE, "ACI 301-20, 35 degF (read in ACI FAQ 889)"),
    "surface to air when uncovered": _most(11.0, "degC apart", _RULE, f"{_ACI_306_1}: 20 degF"),
    # Cooling in 24 h after protection or forms came off, by the least dimension of the section.
    "drop in 24 h, below 300 mm": _most(28.0, "degC apart", _RULE, f"{_ACI_306_1}: 50 degF"),
    "drop in 24 h, 300 to 900 mm": _most(22.0, "degC apart", _ADVICE, f"{_ACI_306R}: 40 degF (from memory)"),
    "drop in 24 h, 900 to 1800 mm": _most(17.0, "degC apart", _ADVICE, f"{_ACI_306R}: 30 degF (from memory)"),
    "drop in 24 h, above 1800 mm": _most(11.0, "degC apart", _ADVICE, f"{_ACI_306R}: 20 degF (from memory)"),
    # As placed and kept in cold weather, by the least dimension.
    "kept in the cold, below 300 mm": _least(13.0, "degC", _RULE, f"{_ACI_306_1}: 55 degF, 3 d, 2 d if accelerated"),
    "kept in the cold, 300 to 900 mm": _least(
        10.0, "degC", _ADVICE, f"{_ACI_306R}: 50 degF (read in a handbook table)"
    ),
    "kept in the cold, 900 to 1800 mm": _least(
        7.0, "degC", _ADVICE, f"{_ACI_306R}: 45 degF (read in a handbook table)"
    ),
    "kept in the cold, above 1800 mm": _least(5.0, "degC", _ADVICE, f"{_ACI_306R}: 40 degF (read in a handbook table)"),
    # The weather.
    "mean of a cold day": _least(5.0, "degC", _ADVICE, f"{_ACI_306R}-88: 40 degF, over 3 days on end ({_PCA})"),
    "warm half of a cold day": _most(10.0, "degC", _ADVICE, f"{_ACI_306R}-88: 50 degF, half of 24 h ({_PCA})"),
    "air while protected": _least(5.0, "degC", _ADVICE, f"{_ACI_306R}-16: fallen or expected below 40 degF (read)"),
    "as delivered": _most(35.0, "degC", _RULE, "ACI 305.1-14 and ACI 301-20: 95 degF (read in a summary)"),
    "evaporation": _most(1.0, "kg/m2 h", _ADVICE, "ACI 305R: 0.2 lb/ft2 h (from memory)"),
    "evaporation, little bleeding": _most(0.5, "kg/m2 h", _ADVICE, "ACI 305R: 0.1 lb/ft2 h (from memory)"),
}


def by_thickness(name: str, thickness_mm: float) -> Limit:
    """Return the limit of a name for a section's least dimension; a thickness that is no number gets the strictest."""
    of = (("below 300 mm", 300.0), ("300 to 900 mm", 900.0), ("900 to 1800 mm", 1800.0))
    if name.startswith("kept"):
        # Here the thin section has the stricter limit.
        band = next((text for text, end_mm in of if not thickness_mm >= end_mm), "above 1800 mm")
    else:
        band = next((text for text, end_mm in of if thickness_mm < end_mm), "above 1800 mm")
    return LIMITS[f"{name}, {band}"]
