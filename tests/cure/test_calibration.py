"""The verdicts: for release, for planning only, refused; and what is written of it."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from cure_support import Story, make_case
from gates_support import site_with
from programmes import made, shipped

from cure.accumulate import Law
from cure.breaks import Break
from cure.calibration import Verdict, age_groups, calibration_of, judge, months_after, to_toml
from shared.errors import SetupError
from shared.models.decisions import GateState
from shared.sitefile import load_calibration

SHIPPED = {
    "breaks.csv": Verdict.RELEASE,
    "breaks-late-first.csv": Verdict.PLANNING,
    "breaks-drifting.csv": Verdict.REFUSED,
}


@pytest.mark.parametrize("name", sorted(SHIPPED))
def test_the_three_shipped_invented_programmes_get_their_verdicts(name: str) -> None:
    judged = judge(shipped(name))
    assert judged.verdict is SHIPPED[name]
    assert bool(judged.refused or judged.doubts) is (judged.verdict is not Verdict.RELEASE)


def test_a_good_programme_is_fit_for_release_without_a_word() -> None:
    judged = judge(made())
    assert (judged.verdict, judged.doubts, judged.wanted, judged.outliers) == (Verdict.RELEASE, [], [], [])


def test_no_cylinder_at_or_below_what_a_release_needs_is_planning_only_and_says_when_to_break() -> None:
    judged = judge(made((14.0, 18.0, 24.0, 36.0, 48.0, 168.0, 672.0)))
    assert judged.verdict is Verdict.PLANNING
    assert "none at or below 4.4 MPa" in judged.doubts[0]
    assert "two cylinders at about" in judged.wanted[0]


def test_no_cylinder_beyond_what_a_load_needs_is_planning_only() -> None:
    judged = judge(made((7.0, 8.0, 9.0, 10.0, 11.0, 12.0)))
    assert any("none at or above 10.0 MPa" in doubt for doubt in judged.doubts)


def test_higher_thresholds_ask_for_higher_cylinders() -> None:
    assert judge(made(), (3.5, 30.0)).verdict is Verdict.PLANNING


def test_a_threshold_that_the_curve_never_reaches_is_for_planning_only_and_asks_for_no_cylinders_at_no_hour() -> None:
    judged = judge(made(), (3.5, 300.0))
    assert judged.verdict is Verdict.PLANNING
    assert "the curve never has 300.0 MPa" in judged.doubts
    assert not any("inf" in said or "nan" in said for said in (*judged.doubts, *judged.wanted))


def test_two_cylinders_that_differ_ask_for_a_third_and_three_do_not() -> None:
    cylinders = made(scatter=0.0)
    cylinders[6] = replace(cylinders[6], mpa=1.06 * cylinders[6].mpa)
    cylinders[7] = replace(cylinders[7], mpa=0.94 * cylinders[7].mpa)
    judged = judge(cylinders)
    assert [w for w in judged.wanted if w.startswith("a third cylinder")] == ["a third cylinder at 24.0 h"]
    third = Break("third", cylinders[6].equivalent_age_h, float(np.mean([c.mpa for c in cylinders[6:8]])))
    assert not any(w.startswith("a third cylinder") for w in judge([*cylinders, third]).wanted)


def test_a_single_cylinder_near_a_threshold_asks_for_a_second() -> None:
    judged = judge([b for b in made() if b.specimen != "12-1"])
    assert "a second cylinder at 12.0 h" in judged.wanted


def test_an_outlier_is_named_and_stays_in() -> None:
    cylinders = made(each=3)
    cylinders[10] = replace(cylinders[10], mpa=1.4 * cylinders[10].mpa)
    judged = judge(cylinders)
    assert judged.outliers == [cylinders[10].specimen]
    assert judged.verdict is not Verdict.RELEASE
    assert len(judged.breaks) == len(cylinders)


def test_too_few_cylinders_or_ages_weakness_with_age_and_nothing_are_refused() -> None:
    assert judge(made()[:8]).verdict is Verdict.REFUSED
    assert judge(made((9.0, 12.0, 18.0, 24.0), each=4)).verdict is Verdict.REFUSED
    assert judge([]).verdict is Verdict.REFUSED
    weaker = [replace(b, mpa=0.5 * b.mpa) if b.equivalent_age_h > 600.0 else b for b in made()]
    assert judge(weaker).verdict is Verdict.REFUSED
    assert judge([*made(), Break("zero", 20.0, 0.0)]).verdict is Verdict.REFUSED
    with pytest.raises(ValueError, match="needed"):
        calibration_of(judge(made()[:8]), "c32-f", 1, "2026-10-19")


def test_the_order_of_the_cylinders_changes_nothing() -> None:
    one, two = judge(made()), judge(list(reversed(made())))
    assert one.breaks == two.breaks
    assert calibration_of(one, "c32-f", 1, "x") == calibration_of(two, "c32-f", 1, "x")


def test_cylinders_within_a_hundredth_of_an_age_are_of_one_age() -> None:
    assert [len(g.breaks) for g in age_groups([Break("a", 10.0, 4.0), Break("b", 10.1, 4.0), Break("c", 11, 4.0)])] == [
        2,
        1,
    ]


def test_a_tested_energy_goes_into_the_file_with_its_temperatures_and_is_the_law_of_its_pours(tmp_path: Path) -> None:
    own = Law(43_210.9876, 1_234.5678, (8.0, 38.0))
    calibration = calibration_of(judge(made()), "c32-f", 1, "2026-10-19", own)
    path = tmp_path / "c32-f-v1.toml"
    path.write_text(to_toml(calibration, []), encoding="utf-8")
    law = Law.of(load_calibration(path))
    assert law.tested_c == (8.0, 38.0)
    assert law.activation_energy_j_per_mol == pytest.approx(43_211.0)
    assert own.sd_j_per_mol <= law.sd_j_per_mol <= own.sd_j_per_mol + 1.0, "rounded up"
    without = calibration_of(judge(made()), "c32-f", 1, "2026-10-19")
    assert calibration_of(judge(made()), "c32-f", 1, "2026-10-19", Law()) == without
    assert "activation" not in to_toml(without, [])


def test_its_file_is_read_back_the_same_and_a_digit_changed_in_it_is_found(tmp_path: Path) -> None:
    calibration = calibration_of(judge(made()), "c32-f", 2, "2026-10-19")
    text = to_toml(calibration, ["about it"])
    assert tomllib.loads(text)["version"] == 2
    path = tmp_path / "c32-f-v2.toml"
    path.write_text(text, encoding="utf-8")
    assert load_calibration(path) == calibration
    path.write_text(text.replace(f"tau_h = {calibration.parameters.model_dump()['tau_h']!r}", "tau_h = 20.0"), "utf-8")
    with pytest.raises(SetupError, match="digest: found that of another text"):
        load_calibration(path)


def test_what_is_fit_for_planning_only_releases_nothing() -> None:
    planning = calibration_of(judge(made((14.0, 18.0, 24.0, 36.0, 48.0, 168.0, 672.0))), "c32-f", 1, "x")
    assert planning.fit_for == "planning"
    story = Story(make_case(site_with(), planning)).run(60)
    assert story.state() is GateState.NOT_SET_UP
    assert any("fit for release" in missing for v in story.case.state.verdicts for missing in v.missing)
    fit = Story(make_case(site_with(), planning.model_copy(update={"fit_for": "release"}))).run(60)
    assert fit.state() is GateState.MET


def test_a_calibration_without_a_cylinder_near_the_threshold_is_never_for_release() -> None:
    for seed in range(40):
        judged = judge(made((24.0, 36.0, 48.0, 72.0, 168.0, 672.0), seed=seed))
        assert judged.verdict is Verdict.PLANNING


@pytest.mark.parametrize(
    ("day", "later"),
    [
        ("2026-10-19", "2027-04-19"),
        ("2026-08-31", "2027-02-28"),
        ("2027-08-31", "2028-02-29"),
        ("2026-06-30", "2026-12-30"),
    ],
)
def test_six_months_later_is_the_same_day_or_the_last_of_the_month(day: str, later: str) -> None:
    assert months_after(date.fromisoformat(day), 6).isoformat() == later


def test_the_last_day_is_part_of_the_calibration_and_of_its_digest() -> None:
    one, two = (calibration_of(judge(made()), "c32-f", 1, "x", None, day) for day in (None, date(2027, 4, 19)))
    assert two.valid_until == date(2027, 4, 19)
    assert one.digest != two.digest
