"""The least squares of every fit, on data sets whose answers are certified or published."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cure.fit import Solution, solve
from cure.maturity import Floats

DATA: dict[str, Any] = tomllib.loads((Path(__file__).parent / "data" / "regression.toml").read_text(encoding="utf-8"))
Model = Callable[[Floats, Floats], Floats]


def boxbod(b: Floats, x: Floats) -> Floats:
    return np.asarray(b[0] * -np.expm1(-b[1] * x))


def boxbod_slope(b: Floats, x: Floats) -> Floats:
    return np.stack((-np.expm1(-b[1] * x), b[0] * x * np.exp(-b[1] * x)), axis=-1)


def rat42(b: Floats, x: Floats) -> Floats:
    return np.asarray(b[0] / (1.0 + np.exp(b[1] - b[2] * x)))


def rat42_slope(b: Floats, x: Floats) -> Floats:
    grown = np.exp(b[1] - b[2] * x)
    steep = b[0] * grown / (1.0 + grown) ** 2
    return np.stack((1.0 / (1.0 + grown), -steep, steep * x), axis=-1)


MODELS: dict[str, tuple[Model, Model]] = {"boxbod": (boxbod, boxbod_slope), "rat42": (rat42, rat42_slope)}
CASES = [(name, i) for name in MODELS for i in range(2)]


def solved(model: Model, slope: Model, x: Floats, y: Floats, start: Sequence[float]) -> Solution:
    free = [-np.inf] * len(start), [np.inf] * len(start)
    # A trial step may go where the model overflows; it is taken back.
    with np.errstate(over="ignore", invalid="ignore"):
        return solve(lambda b: model(b, x) - y, lambda b: slope(b, x), start, free)


def scatter(found: Solution) -> float:
    return math.sqrt(float(np.sum(found.misses**2)) / (len(found.misses) - len(found.parameters)))


@pytest.mark.parametrize(("name", "start"), CASES)
def test_a_hard_curve_comes_out_to_seven_digits_from_a_far_and_from_a_near_start(name: str, start: int) -> None:
    known = DATA[name]
    x, y = np.array(known["x"], float), np.array(known["y"], float)
    found = solved(*MODELS[name], x, y, known["starts"][start])
    assert found.parameters == pytest.approx(known["parameters"], rel=1e-7)
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx(known["errors"], rel=1e-6)
    assert scatter(found) == pytest.approx(known["scatter"], rel=1e-9)
    assert float(found.leverage.sum()) == pytest.approx(len(found.parameters))


@pytest.mark.parametrize("regression", DATA["hald"]["regression"])
def test_the_heat_of_thirteen_cements_follows_their_minerals_as_published(regression: dict[str, Any]) -> None:
    x, y = np.array(DATA["hald"]["x"], float)[:, regression["of"]], np.array(DATA["hald"]["y"], float)
    design = np.column_stack((np.ones(len(y)), x))
    found = solved(lambda b, rows: rows @ b, lambda _, rows: rows, design, y, [0.0] * design.shape[1])
    assert found.parameters == pytest.approx(regression["parameters"], abs=6e-4)
    assert scatter(found) == pytest.approx(regression["scatter"], abs=6e-4)
    left = float(np.sum(found.misses**2)) / float(np.sum((y - y.mean()) ** 2))
    assert 1.0 - left == pytest.approx(regression["r2"], abs=6e-4)


def test_values_that_tell_one_parameter_of_two_are_refused() -> None:
    x, y = np.linspace(1.0, 5.0, 9), np.linspace(2.0, 10.0, 9)
    with pytest.raises(ValueError, match="do not tell"):
        solved(
            lambda b, at: b[0] * b[1] * at, lambda b, at: np.stack((b[1] * at, b[0] * at), axis=-1), x, y, [1.0, 1.0]
        )
