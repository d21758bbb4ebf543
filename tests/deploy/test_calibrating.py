"""`slabhour calibrate` as a person runs it."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from cubes_support import as_csv, cubes

from cure.accumulate import Law
from cure.cubes_report import DATUM_WARNING
from deploy.cli import main
from deploy.demo.scenario import SITE_FILE
from shared.models.calibration import OwnCylinders
from shared.sitefile import load_calibration

OF = ["--mix", "c32-f", "--dose-class", "none", "--supplier", "s", "--lab", "l", "--made-on", "2026-10-19"]


def run(name: str, out: Path, *more: str) -> int:
    return main(["calibrate", str(Path(SITE_FILE).with_name(name)), *OF, "--out", str(out), *more])


def test_a_good_programme_writes_a_calibration_a_plot_and_a_page_and_never_over_an_older_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "calibrations"
    assert (run("breaks.csv", out), run("breaks.csv", out)) == (0, 0)
    assert sorted(p.name for p in out.iterdir()) == [
        f"c32-f-v{v}.{kind}" for v in (1, 2) for kind in ("html", "svg", "toml")
    ]
    assert "verdict: fit for release" in capsys.readouterr().out
    assert load_calibration(out / "c32-f-v2.toml").version == 2


def test_a_refused_programme_writes_its_page_and_no_calibration(tmp_path: Path) -> None:
    assert run("breaks-drifting.csv", tmp_path) == 1
    assert sorted(p.suffix for p in tmp_path.iterdir()) == [".html", ".svg"]


def test_for_programs_it_says_everything_in_one_object(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("breaks-late-first.csv", tmp_path, "--json") == 0
    said = json.loads(capsys.readouterr().out)
    assert said["verdict"] == "fit for planning only"
    assert said["calibration"]["fit_for"] == "planning"
    assert len(said["files"]) == 3
    assert said["tests_to_add"]


def test_how_a_pours_own_cylinders_count_goes_into_the_file_and_onto_the_page(tmp_path: Path) -> None:
    asked = ("--narrow-to-percent", "7.5", "--narrow-from", "6", "--batch-sd-percent", "12")
    assert [run("breaks.csv", tmp_path, *more) for more in ((), ("--own-cylinders",), asked)] == [0, 0, 0]
    plain, lowers, narrows = (load_calibration(tmp_path / f"c32-f-v{v}.toml") for v in (1, 2, 3))
    assert (plain.own_cylinders, plain.batch_sd_percent) == (None, None)
    assert lowers.own_cylinders == OwnCylinders()
    assert narrows.own_cylinders == OwnCylinders(narrow_to_percent=7.5, narrow_from=6)
    assert narrows.batch_sd_percent == 12.0
    said = (tmp_path / "c32-f-v3.html").read_text(encoding="utf-8")
    assert "6 or more of them, in two sets or more, may narrow the spread of its batch to 7.5 %" in said
    assert "they raise nothing" in (tmp_path / "c32-f-v2.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("--narrow-from", "6"), "--narrow-from: found '6' ; allowed: with --narrow-to-percent"),
        (("--narrow-to-percent", "5.9"), "--narrow-to-percent: found '5.9'"),
        (("--narrow-to-percent", "nan"), "--narrow-to-percent: found 'nan'"),
        (("--narrow-to-percent", "8", "--narrow-from", "3"), "--narrow-from: found '3'"),
        (("--batch-sd-percent", "9"), "--batch-sd-percent: found '9'"),
        (("--threshold-mpa", "3.5", "--threshold-mpa", "nan"), "--threshold-mpa: found 'nan'"),
        (("--threshold-mpa", "0.5"), "--threshold-mpa: found '0.5'"),
        (("--threshold-mpa", "121"), "--threshold-mpa: found '121'"),
        (tuple("--threshold-mpa=5" for _ in range(9)), "--threshold-mpa: found '9 of them'"),
    ],
)
def test_a_rule_outside_its_range_is_one_sentence_and_writes_nothing(
    asked: tuple[str, ...], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("breaks.csv", tmp_path / "out", *asked) == 1
    assert said.split(" ;", maxsplit=1)[0].replace("'", "") in capsys.readouterr().err.replace("'", "")
    assert not (tmp_path / "out").exists()


def test_a_strength_that_the_curve_never_has_has_no_hour_on_screen_or_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("breaks.csv", tmp_path, "--threshold-mpa", "3.5", "--threshold-mpa", "110") == 0
    said = capsys.readouterr().out
    assert "verdict: fit for planning only" in said
    assert "because: the curve never has 110.0 MPa" in said
    assert "3.5 MPa at " in said
    page = (tmp_path / "c32-f-v1.html").read_text(encoding="utf-8")
    assert not any(f">{nothing}" in page or f" {nothing} " in page + said for nothing in ("inf", "nan"))


def test_a_bad_name_or_file_is_one_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = tmp_path / "b.csv"
    bad.write_text("specimen,age_h,strength_mpa\na,12,4 MPa\n", encoding="utf-8")
    assert main(["calibrate", str(bad), *OF, "--lab-c", "20"]) == 1
    assert f"{bad}:2: strength_mpa: found '4 MPa'" in capsys.readouterr().err
    assert main(["calibrate", str(bad), *[w.replace("c32-f", "C 32") for w in OF]]) == 1
    assert "--mix: found 'C 32'" in capsys.readouterr().err
    assert main(["calibrate", str(tmp_path / "none.csv"), *OF]) == 1


def test_cylinders_that_are_not_made_yet_are_one_sentence_and_write_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("breaks.csv", tmp_path / "out", "--made-on", "2999-10-19") == 1
    said = (
        "command line: --made-on: found 2999-10-19; allowed: the day on which the cylinders were made, which has been"
    )
    assert said in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def beside(name: str) -> str:
    return str(Path(SITE_FILE).with_name(name))


def test_cubes_put_the_mixs_own_energy_into_the_calibration_and_without_them_nothing_changes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("breaks.csv", tmp_path, "--cubes", beside("cubes.csv")) == 0
    said = capsys.readouterr().out
    assert "cubes: fit for release: activation energy 45.3 kJ/mol" in said
    assert DATUM_WARNING in said
    assert run("breaks.csv", tmp_path) == 0
    assert "cubes:" not in capsys.readouterr().out
    tested, untested = (load_calibration(tmp_path / f"c32-f-v{v}.toml") for v in (1, 2))
    law = Law.of(tested)
    assert law.tested_c == (8.0, 38.0)
    # Made from 45 000 J/mol, cubes scattering by 2.5 %.
    assert abs(law.activation_energy_j_per_mol - 45_000.0) < 2.0 * law.sd_j_per_mol
    assert Law.of(untested) == Law()
    assert (tested.parameters, tested.covariance) == (untested.parameters, untested.covariance)
    assert "Activation energy" in (tmp_path / "c32-f-v1.html").read_text(encoding="utf-8")
    assert "Activation energy" not in (tmp_path / "c32-f-v2.html").read_text(encoding="utf-8")


def test_cubes_that_will_not_do_leave_the_default_law_and_say_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    few = tmp_path / "few.csv"
    few.write_text(as_csv(cubes(45_000.0, each=2)), encoding="utf-8")
    assert run("breaks.csv", tmp_path, "--cubes", str(few), "--json") == 0
    said = json.loads(capsys.readouterr().out)
    assert (said["verdict"], said["cubes"]["verdict"]) == ("fit for release", "fit for planning only")
    assert (
        "activation_energy_kj_per_mol" not in said["calibration"]
        or not said["calibration"]["activation_energy_kj_per_mol"]
    )
    assert sorted(said["cubes"]["k_per_d"]) == ["10", "23", "38"]
    assert "add what is missing" in said["cubes"]["reasons"][0]
    assert Law.of(load_calibration(tmp_path / "c32-f-v1.toml")) == Law()


def test_cubes_that_will_not_do_yet_point_to_a_slow_mix_leave_nothing_for_release(tmp_path: Path) -> None:
    few = tmp_path / "few.csv"
    few.write_text(as_csv(cubes(65_000.0, each=2)), encoding="utf-8")
    assert run("breaks.csv", tmp_path, "--cubes", str(few)) == 0
    assert load_calibration(tmp_path / "c32-f-v1.toml").fit_for == "planning"


def test_bad_cubes_are_one_sentence_and_write_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = tmp_path / "c.csv"
    bad.write_text("specimen,curing_c,age_h,strength_mpa\na,10,12,4 MPa\n", encoding="utf-8")
    assert run("breaks.csv", tmp_path / "out", "--cubes", str(bad)) == 1
    assert f"{bad}:2: strength_mpa: found '4 MPa'" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_laboratory_of_hours_is_credited_by_the_mixs_own_energy_too(tmp_path: Path) -> None:
    breaks = Path(beside("breaks.csv")).read_text(encoding="utf-8").replace("equivalent_age_h", "age_h")
    (tmp_path / "b.csv").write_text(breaks, encoding="utf-8")
    (tmp_path / "c.csv").write_text(as_csv(cubes(60_000.0)), encoding="utf-8")
    said = ["calibrate", str(tmp_path / "b.csv"), *OF, "--out", str(tmp_path), "--lab-c", "25"]
    assert main(said) == main([*said, "--cubes", str(tmp_path / "c.csv")]) == 0
    default, own = (load_calibration(tmp_path / f"c32-f-v{v}.toml") for v in (1, 2))
    assert own.tested_from_h > 1.02 * default.tested_from_h


def test_hours_with_the_record_of_the_cylinders(tmp_path: Path) -> None:
    breaks = Path(SITE_FILE).with_name("breaks.csv").read_text(encoding="utf-8").replace("equivalent_age_h", "age_h")
    (tmp_path / "b.csv").write_text(breaks, encoding="utf-8")
    record = "time_h,c1_c\n" + "".join(f"{h},20\n" for h in range(673))
    (tmp_path / "t.csv").write_text(record, encoding="utf-8")
    said = [
        "calibrate",
        str(tmp_path / "b.csv"),
        *OF,
        "--out",
        str(tmp_path),
        "--temperatures",
        str(tmp_path / "t.csv"),
    ]
    assert main(said) == 0
    assert load_calibration(tmp_path / "c32-f-v1.toml").tested_to_h == pytest.approx(672.0)


@pytest.mark.parametrize(("said", "until"), [([], "2027-04-19"), (["--valid-until", "2026-12-31"], "2026-12-31")])
def test_it_is_for_pours_of_six_months_unless_another_last_day_is_given(
    tmp_path: Path, said: list[str], until: str
) -> None:
    assert main(["calibrate", str(Path(SITE_FILE).with_name("breaks.csv")), *OF, *said, "--out", str(tmp_path)]) == 0
    assert load_calibration(tmp_path / "c32-f-v1.toml").valid_until == date.fromisoformat(until)
