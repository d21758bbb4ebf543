"""Five steps from breaks to a calibration in force: what is shown before the press, and what the press does."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import httpx
import pytest
from cubes_support import as_csv
from cubes_support import cubes as cubes_of
from mixes_support import BREAKS, TYPED, mix_bench
from pages_support import Bench
from store_support import make_calibration, opened_book

from cure.calibration import Verdict
from cure.dashboard.calibrate_pages import VERDICTS
from cure.dashboard.fit_words import HOLDS
from deploy.calibrating import judged_programme
from deploy.demo.scenario import SITE_FILE
from shared.models.acts import PutInForce
from shared.models.calibration import OwnCylinders
from shared.models.people import Role

CALIBRATE, FORCE = "/mix/c32-f/calibrate", "/mix/c32-f/put-in-force"


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with opened_book(tmp_path) as book:
        yield mix_bench(book)


def post(bench: Bench, path: str, **form: Any) -> httpx.Response:
    browser = bench.signed_in(Role.QC)
    return browser.post(path, {"csrf": bench.csrf(browser), **TYPED, **form})


def digest_in(text: str) -> str:
    [digest] = re.findall(r'name="digest" value="([0-9a-f]{64})"', text)
    return str(digest)


def test_there_are_words_for_every_verdict() -> None:
    assert set(VERDICTS) == set(HOLDS) == set(Verdict)


def test_what_was_typed_is_kept_for_whoever_comes_back_until_it_is_in_force_or_thrown_away(bench: Bench) -> None:
    def page(role: Role = Role.QC) -> str:
        return bench.signed_in(role).get(CALIBRATE).text

    assert "Kept for you" not in page()
    # Half of it is enough to be kept, and nothing is reckoned.
    half = post(bench, CALIBRATE, do="keep", laboratory="", lab_c="warm", supplier="plant <b>")
    assert (half.status_code, "What you typed is kept" in half.text) == (200, True)
    back = page()
    assert "Kept for you" in back
    for said in (BREAKS.splitlines()[1], 'value="warm"', 'value="plant &lt;b&gt;"'):
        assert said in back
    assert "plant" not in page(Role.ENGINEER)
    post(bench, CALIBRATE, do="drop")
    assert "Kept for you" not in page()
    # Whoever asks for the fit need not ask for it to be kept.
    digest = digest_in(post(bench, CALIBRATE, own_cylinders="yes").text)
    assert 'name="own_cylinders" value="yes" checked' in page()
    form = {"digest": digest, "second_person": "engineer", "why": "x", "code": bench.code(), "own_cylinders": "yes"}
    assert "Version 2 is in force." in post(bench, FORCE, **form).text
    assert "Kept for you" not in page()
    bench.drafts.full = True
    assert "too full for drafts" in post(bench, CALIBRATE, do="keep").text
    assert "too full for drafts" in (fitted := post(bench, CALIBRATE).text)
    assert digest_in(fitted)


def test_cubes_and_the_rules_of_own_cylinders_come_into_the_calibration_that_is_shown_and_put_in_force(
    bench: Bench,
) -> None:
    cubes = Path(SITE_FILE).with_name("cubes.csv").read_text(encoding="utf-8")
    of_batches = {"own_cylinders": "yes", "narrow_to_percent": "7,5", "narrow_from": "6", "batch_sd_percent": "12"}
    text = post(bench, CALIBRATE, cubes=cubes, **of_batches).text
    # As `slabhour calibrate` tells it of the same file.
    assert "Activation energy 45.3 kJ/mol" in text
    assert text.count('data-chart="cubes-c32-f"') == 2, "wide and narrow"
    assert text.count('data-name="45.3 kJ/mol"') == 2
    assert re.search(r"At [12]\d\.0 °C \(\d+\.\d °F\): k = 0\.\d+ 1/d, known to \d+ %", text)
    assert "It is in the calibration" in text
    assert "The bound has a spread of 12.0 % for a batch." in text
    assert "6 or more of them, in two sets or more, may narrow the spread of its batch to 7.5 % at least" in text
    form = {"digest": digest_in(text), "second_person": "engineer", "why": "cubes", "code": bench.code()}
    assert "Version 2 is in force." in post(bench, FORCE, cubes=cubes, **of_batches, **form).text
    [act] = bench.acts
    assert isinstance(act, PutInForce)
    made = act.calibration
    assert made.activation_energy_kj_per_mol == pytest.approx(45.3, abs=0.05)
    assert made.own_cylinders == OwnCylinders(narrow_to_percent=7.5, narrow_from=6)
    assert made.batch_sd_percent == 12.0
    assert made.digest == made.digested()
    # Without the cubes it is another curve.
    again = {**form, "code": bench.code()}
    assert "another curve than the one you saw" in post(bench, FORCE, **of_batches, **again).text


def test_the_curve_is_judged_at_the_strengths_that_are_asked_for_and_put_in_force_as_it_was_judged(
    bench: Bench,
) -> None:
    text = post(bench, CALIBRATE, threshold_mpa="3,5; 14").text
    assert "14.0 MPa (2031 psi)</b>" in text
    assert "<b>7.0 MPa (" not in text
    assert 'data-chart="cubes-' not in text, "there are no cubes"
    form = {"digest": digest_in(text), "second_person": "engineer", "why": "x", "code": bench.code()}
    # No cylinder of the programme is so strong: then it is no more than a plan.
    late = post(bench, CALIBRATE, threshold_mpa="60").text
    assert digest_in(late) != form["digest"]
    assert "Fit for planning only" in late
    refused = post(bench, FORCE, threshold_mpa="60", **form)
    assert (refused.status_code, bench.acts) == (422, [])
    assert "Version 2 is in force." in post(bench, FORCE, threshold_mpa="3,5; 14", **form).text


def test_cubes_that_will_not_do_yet_are_said_and_leave_the_default_law(bench: Bench) -> None:
    text = post(bench, CALIBRATE, cubes=as_csv(cubes_of(45_000.0, each=2))).text
    assert "the default law with its wider spread holds" in text
    assert "add what is missing" in text
    assert "A pour&#39;s own cylinders count by the sets of its mix only." in text


def test_what_would_change_stands_before_the_press(bench: Bench) -> None:
    text = post(bench, CALIBRATE).text
    assert text.index("Fit for release") < text.index("What changes if this is put in force")
    assert text.index("What changes") < text.index("Put version 2 in force")
    assert "2-b1, 2-b1-p1: judged by this version from now on" in text
    assert "2-b2, 2-b2-p1: keeps version 1" in text
    # By version 1, lowered by its later cylinders, and by version 2: k_age_h of both, computed.
    assert re.search(r"3\.5 MPa \(508 psi\)</b>: [\d.]+ h → 10\.7 h, earlier", text)
    own = judged_programme((BREAKS, "breaks"), None, None)
    assert own.fitted is not None
    assert f"su_mpa {own.fitted.parameters.model_dump()['su_mpa']:.4g}" in text
    assert text.count("Version 1</") + text.count("Version 2</") >= 2, "both curves are named in the chart"
    assert bench.acts == []


def test_a_calibration_is_put_in_force_by_two_people_with_a_code(bench: Bench) -> None:
    digest = digest_in(post(bench, CALIBRATE).text)
    form = {"digest": digest, "second_person": "engineer", "why": "new cement", "code": bench.code()}
    answer = post(bench, FORCE, **form)
    assert "Version 2 is in force." in answer.text
    [act] = bench.acts
    assert isinstance(act, PutInForce)
    assert (act.who, act.second_person, act.why) == ("qc", "engineer", "new cement")
    assert (act.calibration.mix, act.calibration.version, act.calibration.digest) == ("c32-f", 2, digest)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"digest": "0" * 64}, "another curve than the one you saw"),
        ({"breaks": BREAKS.replace("4.10", "4.15")}, "another curve than the one you saw"),
        ({"second_person": ""}, "A second person and a reason"),
        ({"why": ""}, "A second person and a reason"),
        ({"code": "000000"}, "code"),
    ],
)
def test_nothing_is_put_in_force_that_was_not_seen_or_not_signed(
    bench: Bench, changes: dict[str, str], said: str
) -> None:
    digest = digest_in(post(bench, CALIBRATE).text)
    form = {"digest": digest, "second_person": "engineer", "why": "new cement", "code": bench.code(), **changes}
    answer = post(bench, FORCE, **form)
    assert (answer.status_code, bench.acts) == (422, [])
    assert said in answer.text


def test_a_second_person_who_can_be_none_is_said_in_words_and_uses_up_no_code(bench: Bench) -> None:
    digest, code = digest_in(post(bench, CALIBRATE).text), bench.code()
    answer = post(bench, FORCE, digest=digest, second_person="Two People", why="x", code=code)
    assert (answer.status_code, bench.acts) == (422, [])
    assert "Second person" in answer.text
    assert "validation error" not in answer.text
    answer = post(bench, FORCE, digest=digest, second_person="engineer", why="x", code=code)
    assert "Version 2 is in force." in answer.text


def test_another_version_that_came_first_is_seen(bench: Bench) -> None:
    digest = digest_in(post(bench, CALIBRATE).text)
    [row] = bench.board.known_mixes
    newer = make_calibration(version=2)
    bench.board.known_mixes = (type(row)(row.mix, newer, True, row.pours, ()),)
    answer = post(bench, FORCE, digest=digest, second_person="engineer", why="x", code=bench.code())
    assert "another version came first" in answer.text
    assert bench.acts == []


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"breaks": ""}, "are all needed"),
        ({"made_on": ""}, "are all needed"),
        ({"made_on": "soon"}, "made on: found"),
        ({"supplier": "a\nb"}, "one line"),
        ({"lab_c": "warm"}, "is no number"),
        ({"cubes": "specimen,curing_c\nx,20\n"}, "cubes:1"),
        ({"narrow_to_percent": "5"}, "narrow-to-percent: found 5; allowed: 6 to 30"),
        ({"narrow_from": "6"}, "narrow-to-percent too"),
        ({"threshold_mpa": "3.5 500"}, "threshold-mpa: found 500; allowed: 1 to 120"),
        ({"threshold_mpa": "3.5 nan"}, "is no number"),
        ({"threshold_mpa": "1 2 3 4 5 6 7 8 9"}, "threshold-mpa: found 9 of them"),
        ({"narrow_to_percent": "8", "narrow_from": "4.5"}, "narrow-from: found 4.5"),
        ({"breaks": "specimen,age_h,strength_mpa\na,12,4 MPa\n", "lab_c": "20"}, "breaks:2: strength_mpa"),
    ],
)
def test_what_cannot_be_read_is_said_with_its_place_and_the_form_comes_back(
    bench: Bench, changes: dict[str, str], said: str
) -> None:
    answer = post(bench, CALIBRATE, **changes)
    assert answer.status_code == 422
    assert said in answer.text
    assert 'value="none"' in answer.text


@pytest.mark.parametrize(("path", "language"), [(CALIBRATE, "fr"), (FORCE, "es")])
def test_what_cannot_be_read_is_said_in_the_readers_language(bench: Bench, path: str, language: str) -> None:
    browser = bench.signed_in(Role.QC)
    csrf = bench.csrf(browser)
    browser.cookies.set("slabhour_language", language)
    text = browser.post(path, {"csrf": csrf, **TYPED, "breaks": "specimen,age_h,strength_mpa\na,12,4 MPa\n"}).text
    said = {"fr": "ruptures, ligne 2 : strength_mpa : trouvé '4 MPa'", "es": "roturas, línea 2: strength_mpa: se halló"}
    assert said[language] in unescape(text)


def test_a_refused_programme_shows_why_and_offers_nothing(bench: Bench) -> None:
    drifting = Path(SITE_FILE).with_name("breaks-drifting.csv").read_text(encoding="utf-8")
    text = post(bench, CALIBRATE, breaks=drifting).text
    assert "Refused" in text
    assert judged_programme((drifting, "breaks"), None, None).refused[0] in unescape(text)
    assert 'class="chart wide"' in text
    assert "put-in-force" not in text
    late = Path(SITE_FILE).with_name("breaks-late-first.csv").read_text(encoding="utf-8")
    assert "Fit for planning only: pours judged by it are not released" in post(bench, CALIBRATE, breaks=late).text
