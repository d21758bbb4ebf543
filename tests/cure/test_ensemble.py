from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from forecast_support import MEMBERS, PLACED_MS, weather, work

from cure import ensemble
from cure.assimilate import begun
from cure.draws import air_noise, drawn
from cure.ensemble import STEP_MS, simulate
from cure.forecast import FOR_EVER_MS, Span, Weather
from shared.models.base import HOUR_MS, PourId


def test_a_pour_gets_the_same_numbers_alone_and_beside_others() -> None:
    works = [
        work("a"),
        work("b", thickness_mm=64.0, covers=(Span(PLACED_MS + 4 * HOUR_MS, FOR_EVER_MS, 0.35),)),
        work("c", thickness_mm=150.0, weather=weather(-3.0), forms_off_ms=PLACED_MS + 20 * HOUR_MS),
    ]
    starts = [begun(w, MEMBERS) for w in works]
    together = simulate(works, starts, [60, 20, 48])
    for w, start, steps, run in zip(works, starts, (60, 20, 48), together, strict=True):
        (alone,) = simulate([w], [start], [steps])
        assert np.array_equal(run.points_c[: steps + 1], alone.points_c)
        assert np.array_equal(run.end.age_h, alone.end.age_h)


@pytest.mark.parametrize(("thickness", "off_c"), [(64.0, 0.8), (100.0, 0.8), (150.0, 0.7)])
def test_half_hours_and_one_pass_of_heat_are_near_steps_of_five_minutes(
    thickness: float, off_c: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The ensemble's own spread after a day is 1 to 2 degC; the largest difference comes as the cover goes on.
    w = work(thickness_mm=thickness, covers=(Span(PLACED_MS + 4 * HOUR_MS, FOR_EVER_MS, 0.35),))
    (coarse,) = simulate([w], [begun(w, 10)], [96])
    monkeypatch.setattr(ensemble, "STEP_MS", STEP_MS // 6)
    monkeypatch.setattr(ensemble, "HEAT_PASSES", 2)
    (fine,) = simulate([w], [begun(w, 10)], [576])
    off = np.abs(coarse.points_c - fine.points_c[::6])[4:]
    assert float(off.max()) < off_c
    assert float(off.mean()) < 0.15


def test_what_is_laid_on_heated_or_taken_off_shows() -> None:
    later = PLACED_MS + 10 * HOUR_MS
    changed = {
        "plain": work(),
        "covered": work(covers=(Span(later, FOR_EVER_MS, 0.5),)),
        "heated": work(heated=(Span(later, FOR_EVER_MS, 15.0),)),
        "stripped": work(forms_off_ms=later),
    }
    runs = dict(
        zip(
            changed, simulate([*changed.values()], [begun(w, MEMBERS) for w in changed.values()], [48] * 4), strict=True
        )
    )
    means = {name: run.points_c[:, 1].mean(axis=1) for name, run in runs.items()}
    assert all(np.array_equal(m[:20], means["plain"][:20]) for m in means.values())
    assert means["covered"][-1] > means["plain"][-1] + 1.0
    assert means["heated"][-1] > means["plain"][-1] + 1.0
    assert means["stripped"][-1] < means["plain"][-1]
    # A side that is exposed lies between column and air.
    edge, inside = runs["plain"].points_c[20, 0], runs["plain"].points_c[20, 1]
    assert float(edge.mean()) < float(inside.mean()) - 0.05


def test_the_error_of_the_air_grows_with_the_hours_ahead_and_wanders() -> None:
    w = work()
    (run,) = simulate([w], [begun(w, 400)], [160])
    sds = run.air_error_c.std(axis=1)
    # Here 0.7 always, ahead 0.7 more, wandering 0.5 to 2: the roots of the sums of squares.
    assert sds[-1] == pytest.approx(np.sqrt(0.7**2 + 0.7**2 + 2.0**2), rel=0.15)
    assert sds[0] < 1.2
    noise = air_noise(w, 100, 400)
    assert np.array_equal(noise[:40], air_noise(w, 40, 400))
    assert float(np.corrcoef(noise[50], noise[51])[0, 1]) == pytest.approx(0.93, abs=0.03)


def test_a_pour_draws_the_same_each_time_and_another_one_something_else() -> None:
    scores = drawn(PourId("a"), 2, 50)
    assert np.array_equal(scores, drawn(PourId("a"), 2, 50))
    assert not np.array_equal(scores, drawn(PourId("b"), 2, 50))
    assert scores.mean(axis=1) == pytest.approx(0.0, abs=1e-12)
    assert scores.std(axis=1) == pytest.approx(1.0)


@pytest.mark.parametrize(
    "wrong",
    [
        {"air_c": np.full(200, np.nan)},
        {"wind_m_per_s": np.full(200, -1.0)},
        {"air_sd_c": np.full(199, 1.0)},
        {"bias_sd_c": float("inf")},
        {"hours_ms": np.arange(200, dtype=np.int64)},
    ],
)
def test_weather_that_is_no_weather_is_refused(wrong: dict[str, object]) -> None:
    good = weather()
    with pytest.raises(ValueError, match=r"weather|spread"):
        replace(good, **wrong)  # type: ignore[arg-type]
    assert isinstance(good, Weather)
