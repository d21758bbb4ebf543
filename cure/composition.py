"""What the composition of a binder lets one expect before anything is tested. For planning: no release rests on it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Binder:
    """Mass fractions of the cement, its fineness, and what replaces it."""

    c3a: float
    c4af: float
    blaine_m2_per_kg: float
    fly_ash: float = 0.0
    """Of the binder."""
    fly_ash_cao: float = 0.0
    """CaO of the fly ash."""
    slag: float = 0.0
    """Of the binder."""


def expected_energy_j_per_mol(binder: Binder) -> float:
    """Return the apparent activation energy: 22100 f C3A^0.30 C4AF^0.25 Blaine^0.35. [J/mol]

    f = 1 - 1.05 FA (1 - CaO/0.40) + 0.40 slag.

    Raises:
        ValueError: a fraction is not between 0 and 1, no cement is left, or f is not above 0.

    Source:
        A. K. Schindler, "Effect of temperature on hydration of cementitious materials", ACI Materials Journal 101(1),
        2004 (from memory). A regression: a mix's own may be far from it.
    """
    fractions = (binder.c3a, binder.c4af, binder.fly_ash, binder.fly_ash_cao, binder.slag)
    factor = 1.0 - 1.05 * binder.fly_ash * (1.0 - binder.fly_ash_cao / 0.40) + 0.40 * binder.slag
    cement = all(0.0 <= f <= 1.0 for f in fractions) and binder.fly_ash + binder.slag < 1.0
    if not (cement and binder.blaine_m2_per_kg > 0.0 and factor > 0.0):
        raise ValueError("fractions lie between 0 and 1, and enough of the binder is cement")
    return float(22_100.0 * factor * binder.c3a**0.30 * binder.c4af**0.25 * binder.blaine_m2_per_kg**0.35)
