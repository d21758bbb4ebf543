"""Laboratory programmes: the shipped invented ones, and cylinders made from a known curve."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from cure.breaks import Break, matured, read_breaks
from cure.strength import CURVES
from deploy.demo.scenario import SITE_FILE
from shared.models.calibration import ExponentialParameters

TRUTH = ExponentialParameters(su_mpa=42.0, tau_h=30.0, beta=0.8)
AGES = (9.0, 12.0, 18.0, 24.0, 36.0, 48.0, 168.0, 672.0)


def shipped(name: str) -> list[Break]:
    """Return the cylinders of a shipped file."""
    path = Path(SITE_FILE).with_name(name)
    return matured(read_breaks(path.read_text(encoding="utf-8"), name), name, None, None)


def made(ages: tuple[float, ...] = AGES, each: int = 2, scatter: float = 0.02, seed: int = 3) -> list[Break]:
    """Return so many cylinders an age, with a scatter of their own."""
    rng = np.random.default_rng(seed)
    mpa = CURVES["exponential"].strength_mpa(np.array(ages), TRUTH)
    return [
        Break(f"{age:g}-{i}", age, float(m * (1.0 + scatter * rng.uniform(-1.0, 1.0))))
        for age, m in zip(ages, mpa, strict=True)
        for i in range(each)
    ]
