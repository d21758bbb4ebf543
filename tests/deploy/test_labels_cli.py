from __future__ import annotations

from pathlib import Path

import pytest
from deploy_support import little_service, run, write_site

from deploy.cli_site import DONE, WRONG_USAGE
from deploy.labels import ID_ONLY
from shared.models.acts import act_from, instant


@pytest.fixture
def site(tmp_path: Path) -> list[str | Path]:
    return ["--site", write_site(tmp_path)]


def test_a_page_of_labels_is_written_and_told(
    site: list[str | Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "labels.html"
    ran = run(capsys, ["labels", out, "--address", "http://site.lan:8080/", "--paper", "Letter", *site])
    assert (ran.code, ran.err) == (DONE, "")
    assert ran.out.splitlines() == [f"6 labels, Letter, in {out}", "print at 100 %, not fitted to the page"]
    text = out.read_text(encoding="utf-8")
    assert "/logger/lg-09" in text
    assert "8080//" not in text


def test_without_an_address_it_says_that_codes_hold_names(
    site: list[str | Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = run(capsys, ["labels", tmp_path / "l.svg", *site])
    assert f"; {ID_ONLY}, say --address http://site.lan:8080" in ran.out
    assert run(capsys, ["labels", tmp_path / "l.svg", "--json", *site]).json() == {
        "labels": 6,
        "files": [str(tmp_path / "l.svg")],
        "address": None,
    }


@pytest.mark.parametrize(
    ("web", "address"),
    [
        ('listen = "192.168.7.5"', "https://192.168.7.5:8080"),
        ('listen = "192.168.7.5"\nport = 8443', "https://192.168.7.5:8443"),
        ('listen = "192.168.7.5"\nport = 0', None),
        ('listen = "0.0.0.0"', None),
        ('listen = "0.0.0.0"\naddress = "https://pages.example"', "https://pages.example"),
        ('listen = "127.0.0.1"', None),
    ],
)
def test_the_address_is_that_of_the_site_file_where_a_phone_reaches_it(
    web: str, address: str | None, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_site(tmp_path)
    for name in ("web.pem", "web.key"):
        (tmp_path / name).touch()
    text = path.read_text(encoding="utf-8")
    assert text.count("[web]\nport = 0\n") == 1
    wanted = f'[web]\n{web}\ncert_file = "web.pem"\nkey_file = "web.key"\n'
    path.write_text(text.replace("[web]\nport = 0\n", wanted), encoding="utf-8")
    said = run(capsys, ["labels", tmp_path / "l.svg", "--json", "--site", path]).json()
    assert said["address"] == address
    other = run(capsys, ["labels", tmp_path / "l.svg", "--json", "--site", path, "--address", "http://a.lan"]).json()
    assert other["address"] == "http://a.lan"


def test_pictures_of_more_than_one_sheet_are_numbered_and_a_bay_may_be_chosen(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site: list[str | Path] = ["--site", write_site(tmp_path)]
    with little_service(tmp_path) as (service, clock):
        for n in range(30):
            at = instant(clock.now())
            place = {"kind": "place_sensor", "at": at, "who": "qc-one", "sensor": f"lg-{n + 40}.1", "bay": "2-b1"}
            service.apply(act_from({**place, "zone": "interior", "required": False}))
    out = tmp_path / "l.svg"
    told = run(capsys, ["labels", out, "--bay", "2-b1", "--json", *site]).json()
    assert told == {"labels": 34, "files": [str(out), str(tmp_path / "l-2.svg")], "address": None}
    assert "lg-69.1" in (tmp_path / "l-2.svg").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (["l.pdf"], "ends in .svg or .html"),
        (["l.svg", "--bay", "9-b9"], "no bay 9-b9"),
        (["l.svg", "--address", "site.lan"], "no address like"),
        (["l.svg", "--address", "http://user@site.lan"], "no address like"),
        (["l.svg", "--paper", "A3"], "A3"),
    ],
)
def test_wrong_usage_is_one_sentence_and_writes_nothing(
    wrong: list[str], said: str, site: list[str | Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = run(capsys, ["labels", tmp_path / wrong[0], *wrong[1:], *site])
    assert ran.code == WRONG_USAGE
    assert said in ran.err
    assert not list(tmp_path.glob("l*.svg"))
