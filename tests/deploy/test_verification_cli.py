"""`slabhour verification` and `break-orders` as a person runs them, beside the acts that enter cylinders."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from deploy_support import END_MS, POUR, act, little_service, poured, run

from alerts.transport import RecordingTransport
from deploy.cli_site import DONE, REFUSED
from deploy.wiring import build
from shared.clock import SimulatedClock
from shared.models.base import HOUR_MS
from shared.sitefile import load


@pytest.fixture
def site(tmp_path: Path) -> list[str]:
    """Return the options of a site with one pour and two cylinders of it."""
    with little_service(tmp_path) as (service, clock):
        tests = [
            act("test_result", END_MS + 30 * HOUR_MS, "qc-one", pour=POUR, method="cylinder", mpa=mpa,
                equivalent_age_h=30.0)
            for mpa in (16.0, 16.4)
        ]  # fmt: skip
        for one in [*poured(), *tests]:
            clock.set(one.at_ms)
            service.apply(one)
    return ["--site", str(tmp_path / "site.toml")]


def test_it_shows_each_set_with_its_ratio_and_the_running_sum(
    site: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    ran = run(capsys, ["verification", *site])
    assert ran.code == DONE
    # 38 exp(-(22/30)^0.85) = 17.61 MPa (computed by hand): (16.0 + 16.4)/2 is 91.9 % of it.
    assert f"set 1: pour {POUR}, " in ran.out
    assert "2 cylinders, 91.9 % of the curve, lowers the curve; running sum -5.6 %" in ran.out
    assert "the curve counts for 91.9 %" in ran.out
    assert "not a strength of the structure" in ran.out


def test_as_json_with_files_it_names_them(site: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "filed"
    ran = run(capsys, ["verification", *site, "--mix", "c32-f", "--out", str(out), "--json"])
    assert ran.code == DONE
    (mix,) = ran.json()["mixes"]
    assert (mix["mix"], mix["version"], len(mix["sets"])) == ("c32-f", 1, 1)
    assert sorted(ran.json()["files"]) == sorted(str(p) for p in out.iterdir())
    (picture,) = out.glob("c32-f-v1-verification-*.svg")
    root = ET.fromstring(picture.read_text())  # noqa: S314 - our own text
    # One set, in both panels.
    assert len([p for p in root.iter() if str(p.get("class")).split()[0] == "p"]) == 2
    (page,) = out.glob("verification-*.html")
    assert POUR in page.read_text()


def test_what_was_filed_is_never_written_over(
    site: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shared.clock.SystemClock.now", lambda _: END_MS)
    given = ["verification", *site, "--out", str(tmp_path / "filed")]
    assert run(capsys, given).code == DONE
    before = {p: p.read_bytes() for p in (tmp_path / "filed").iterdir()}
    again = run(capsys, given)
    assert again.code == REFUSED
    assert "File exists" in again.err
    assert {p: p.read_bytes() for p in (tmp_path / "filed").iterdir()} == before


def test_a_mix_that_has_no_calibration_is_one_sentence(site: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(capsys, ["verification", *site, "--mix", "c99"])
    assert ran.code == REFUSED
    assert "--mix: found 'c99'; allowed: a mix with a calibration: c32-f" in ran.err


def test_orders_are_told_for_the_open_pour_fitted_to_the_hours_of_the_site_file(
    site: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shared.clock.SystemClock.now", lambda _: END_MS + HOUR_MS)
    ran = run(capsys, ["break-orders", *site])
    assert ran.code == DONE
    assert "no hours of the laboratory are set" in ran.out
    # The two cylinders at 30 h have answered what strip, walk and load ask for.
    assert f"2-b1, pour {POUR}, mix c32-f, version 1\n    nothing to order" in ran.out
    path = tmp_path / "site.toml"
    own = '[laboratory]\nopen = "08:00-17:00"\ndays = ["mon", "tue", "wed", "thu", "fri"]\n'
    drill = '[[requirement]]\noperation = "core drill"\nall = [{ lower_bound_mpa = 16.0 }]\n'
    path.write_text(path.read_text() + own + drill)
    with build(load(path), clock=SimulatedClock(END_MS + HOUR_MS), transport=RecordingTransport()):
        pass
    ran = run(capsys, ["break-orders", *site, "--json"])
    assert ran.code == DONE
    assert ran.json()["laboratory"]["open"] == "08:00-17:00"
    (pour,) = ran.json()["pours"]
    (order,) = pour["orders"]
    assert [w["what"] for w in order["wanted"]] == ["core drill"]
    shown = run(capsys, ["break-orders", *site]).out
    assert "laboratory open 08:00-17:00, mon, tue, wed, thu, fri" in shown
    assert "only with its own temperature record" in shown
    assert "it releases nothing" in shown
