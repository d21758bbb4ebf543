"""What one field of a calibration cannot know: checks over the whole of it, and against the mix that names it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from shared.models.calibration import PARAMETERS, curve_told_by
from shared.site_checks import together
from shared.toml_lines import Path
from shared.toml_model import Doubt, Table, shown

RANGES: Final = (("tested_from_h", "tested_to_h"), ("activation_energy_from_c", "activation_energy_to_c"))
OF_THE_ENERGY: Final = ("activation_energy_sd_kj_per_mol", *RANGES[1])
"""Without these an activation energy says nothing."""


def calibration_doubts(table: Table, mix: str | None) -> Iterator[Doubt]:
    """Check a calibration by itself and against the mix that names it."""
    if None not in {mix, table.get("mix")} and table["mix"] != mix:
        yield Doubt(("mix",), shown(table["mix"]), f'"{mix}", the mix that names this file')
    for first, last in RANGES:
        low, high = table.get(first), table.get(last)
        if low is not None and high is not None and not low < high:
            yield Doubt((first,), shown(low), f"below {last}, {high}")
    for other in OF_THE_ENERGY:
        yield from together((), table, "activation_energy_kj_per_mol", other)
    yield from _curve_doubts(table.get("curve"), table.get("parameters"))
    yield from _covariance_doubts(table.get("covariance"), table.get("curve"))


def _curve_doubts(curve: str | None, parameters: Table | None) -> Iterator[Doubt]:
    if curve is None or parameters is None:
        return
    told = curve_told_by(parameters)
    if told not in {None, curve}:
        yield Doubt(("parameters",), f"those of {shown(told)}", f"those of {shown(curve)}: {_names(curve)}")


def _names(curve: str) -> str:
    return ", ".join(PARAMETERS[curve].model_fields)


def _covariance_doubts(rows: Any, curve: str | None) -> Iterator[Doubt]:
    if curve is None or rows is None or any(row is None or None in row for row in rows):
        return
    n = len(PARAMETERS[curve].model_fields)
    # A matrix short of a row is wrong as a whole, a row short of a number in itself.
    paths: list[Path] = [("covariance",)] if len(rows) != n else []
    paths += [("covariance", i) for i, row in enumerate(rows) if len(row) != n]
    yield from (
        Doubt(path, "a list of another length", f"a list of {n}, one each of: {_names(curve)}") for path in paths
    )
    if paths:
        return
    matrix = np.array(rows, dtype=float)
    if not np.allclose(matrix, matrix.T, rtol=1e-9, atol=0.0):
        yield Doubt(("covariance",), "a matrix that is not symmetric", "row i, column j equal to row j, column i")
    elif not _is_scatter(matrix):
        wanted = "a positive semi-definite matrix, as the fit gives it"
        yield Doubt(("covariance",), "a matrix that no scatter has", wanted)


def _is_scatter(matrix: NDArray[np.float64]) -> bool:
    """Return whether a symmetric matrix is positive semi-definite, up to rounding."""
    variance = np.diag(matrix)
    scale = np.sqrt(np.where(variance > 0.0, variance, 1.0))
    with np.errstate(all="ignore"):
        # As correlations: the parameters differ by orders of magnitude.
        scaled = matrix / scale / scale[:, np.newaxis]
    if not np.all(np.abs(scaled) <= 1.0 + 1e-9):
        return False
    return bool(np.linalg.eigvalsh(scaled)[0] >= -1e-9)
