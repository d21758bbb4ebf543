from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path

import pytest

import cure
from cure.composition import Binder, expected_energy_j_per_mol

PLAIN = Binder(c3a=0.10, c4af=0.07, blaine_m2_per_kg=370.0)


def test_a_plain_cement_is_expected_at_some_45_kilojoules() -> None:
    # Worked through from the printed regression (from memory): 45 137 J/mol.
    assert expected_energy_j_per_mol(PLAIN) == pytest.approx(45_137.0, abs=1.0)


def test_fly_ash_lowers_it_and_slag_raises_it() -> None:
    plain = expected_energy_j_per_mol(PLAIN)
    assert expected_energy_j_per_mol(replace(PLAIN, fly_ash=0.2, fly_ash_cao=0.1)) == pytest.approx(
        plain * (1 - 1.05 * 0.2 * 0.75)
    )
    assert expected_energy_j_per_mol(replace(PLAIN, slag=0.5)) == pytest.approx(plain * 1.2)


@pytest.mark.parametrize(
    "changes", [{"c3a": 1.2}, {"slag": -0.1}, {"fly_ash": 0.6, "slag": 0.5}, {"blaine_m2_per_kg": float("nan")},
                {"fly_ash": 0.99}, {"c4af": float("nan")}],
)  # fmt: skip
def test_a_binder_that_cannot_be_is_refused(changes: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="fractions"):
        expected_energy_j_per_mol(replace(PLAIN, **changes))


def test_nothing_that_releases_reads_it() -> None:
    # The heat model does; that nothing which releases reads that in turn is a contract in pyproject.toml.
    for path in set(Path(cure.__path__[0]).glob("*.py")) - {Path(cure.__path__[0], "hydration.py")}:
        imported = {
            name
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            for name in (
                [node.module or ""] if isinstance(node, ast.ImportFrom)
                else [a.name for a in node.names] if isinstance(node, ast.Import) else []
            )
        }  # fmt: skip
        assert not any("composition" in name for name in imported), path.name
