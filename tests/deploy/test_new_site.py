"""`slabhour init` and `logger credentials`: whole or nothing, over nothing, private, and right the first time."""

from __future__ import annotations

import shutil
import stat
from pathlib import Path

import pytest
from deploy_support import Ran, run, write_site
from setup_support import CALIBRATION

from deploy.credentials import hashed
from deploy.new_site import SITE_FILE
from deploy.secret_files import secrets_of
from shared.sitefile import load

pytestmark = pytest.mark.skipif(shutil.which("openssl") is None, reason="openssl is not installed")
SAID = ["--id", "yard", "--name", 'The "Yard"', "--zone", "America/Halifax", "--host", "slab.site.example"]


@pytest.fixture
def made(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """A new site of which nobody but its owner has said anything."""
    assert run(capsys, ["init", tmp_path / "site", *SAID]).code == 0
    return tmp_path / "site"


def modes(folder: Path) -> dict[str, int]:
    return {str(p.relative_to(folder)): stat.S_IMODE(p.stat().st_mode) for p in folder.rglob("*") if p.is_file()}


def test_a_new_site_has_private_secrets_that_no_two_sites_share_and_writes_over_nothing(
    made: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = modes(made)
    private = {"secrets/broker": 0o400, "secrets/loggers": 0o600, "tls/ca.key": 0o400, "tls/site.key": 0o400}
    private |= {"broker/passwd": 0o600, "broker/acl.conf": 0o600, "broker/site.key": 0o400, "site.toml": 0o640}
    assert {name: found[name] for name in private} == private
    before = {name: (made / name).read_bytes() for name in found}
    again = run(capsys, ["init", made, *SAID])
    assert (again.code, "is not empty: init writes over nothing" in again.err) == (1, True)
    assert {name: (made / name).read_bytes() for name in modes(made)} == before
    other = run(capsys, ["init", tmp_path / "other", *SAID, "--json"]).json()
    assert other["next"][0].startswith("slabhour logger credentials lg-01 --site ")
    assert sorted(found) == other["files"]
    assert not secrets_of(load(made / SITE_FILE)) & secrets_of(load(tmp_path / "other" / SITE_FILE))
    setup = load(made / SITE_FILE)
    assert (setup.site.site.name, setup.site.web.address) == ('The "Yard"', "https://slab.site.example:8443")
    run(capsys, ["init", tmp_path / "six", *SAID[:-1], "fd00::7"])
    assert load(tmp_path / "six" / SITE_FILE).site.web.address is None


def test_with_what_engineer_and_laboratory_give_only_the_broker_is_missing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "c.toml").write_text(CALIBRATION, encoding="utf-8")
    given: list[str | Path] = ["--plan", "strict", "--adopted-by", "engineer of record", "--document", "criteria.pdf"]
    given += ["--calibration", tmp_path / "c.toml", "--construction-load-kpa", "1.0"]
    assert run(capsys, ["init", tmp_path / "site", *SAID, *given]).code == 0
    setup = load(tmp_path / "site" / SITE_FILE)
    assert (setup.site.plan.use, setup.site.plan.adopted_by, len(setup.calibrations)) == ("strict", given[3], 1)
    site, said = tmp_path / "site" / SITE_FILE, []
    for line in run(capsys, ["check", "--site", site]).out.splitlines():
        said += [line.split()[1]] if line.startswith("WRONG") else []
    # Whether a broker of another runs here, and this machine's clock is right, are not the new site's.
    assert set(said) - {"clock:"} == {"broker:"}


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["--id", "Yard 1"], "site.id"),
        (["--zone", "Mars/North"], "site.zone"),
        (["--host", "a b"], "no name or address of a machine"),
        (["--adopted-by", "engineer"], "go together"),
        (["--construction-load-kpa", "nan"], "construction_load_kpa"),
        (["--calibration", "nowhere.toml"], "nowhere.toml"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_left_of_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], more: list[str], told: str
) -> None:
    ran = run(capsys, ["init", tmp_path / "site", *SAID, *more])
    assert ran.code == 1
    assert told in ran.err
    assert list(tmp_path.iterdir()) == []


def test_what_has_no_default_is_asked_for(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(capsys, ["init", tmp_path / "site", "--name", "x"])
    assert (ran.code, "--id, --zone, --host" in ran.err) == (1, True)
    assert run(capsys, ["init", tmp_path / "site", "--mqtt-port", "0"]).code == 2


def test_a_hash_is_the_one_that_mosquitto_makes() -> None:
    # mosquitto_passwd 2.0.11 (Debian 12) made it of this password with this salt.
    salt = bytes.fromhex("ee2e3ef15355070e2be3bce9")
    made = "9PsouK6i5zqQkjIPA1IK63nYbz/dI9HMOOVmExHwcMGa"
    made += "p9U717I8EtJ03zHTjBxosiyf+BpjEJIvPpGQjA02Lg=="
    assert hashed("a-long-password-1", salt) == f"$7$101$7i4+8VNVBw4r47zp${made}"


def test_a_loggers_password_is_made_once_replaced_and_taken_away(
    made: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def credentials(*words: str) -> Ran:
        return run(capsys, ["logger", "credentials", *words, "--site", made / SITE_FILE, "--json"])

    first = credentials("lg-01").json()
    assert (first["topics"], first["broker"]) == (["slabhour/yard/r/lg-01"], "localhost:8883")
    refused = credentials("lg-01")
    assert (refused.code, "has a password already" in refused.err) == (1, True)
    assert first["password"] not in refused.err
    second = credentials("lg-01", "--replace").json()
    assert credentials("lg-10").code == 0
    text = {name: (made / name).read_text(encoding="utf-8") for name in ("secrets/loggers", "broker/passwd")}
    assert first["password"] not in text["secrets/loggers"]
    assert f"lg-01 {second['password']}\n" in text["secrets/loggers"]
    assert [line.split(":")[0] for line in text["broker/passwd"].splitlines()] == ["slabhour", "lg-01", "lg-10"]
    assert second["password"] not in text["broker/passwd"]
    assert credentials("lg-01", "--remove").json()["removed"] == "lg-01"
    assert [line.split(":")[0] for line in (made / "broker/passwd").read_text().splitlines()] == ["slabhour", "lg-10"]
    for wrong in (["lg-01", "--remove"], ["slabhour"], ["A logger"]):
        assert credentials(*wrong).code == 1
    assert {m for n, m in modes(made).items() if n in text} == {0o600}


def test_a_certificate_is_renewed_for_the_same_hosts_by_the_same_authority(
    made: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    authority, old = (made / "tls/ca.pem").read_bytes(), (made / "broker/site.pem").read_bytes()
    again = run(capsys, ["init", made, "--renew", "--json"]).json()
    assert again["hosts"] == ["slab.site.example", "localhost", "127.0.0.1"]
    assert (made / "tls/ca.pem").read_bytes() == authority
    new = (made / "broker/site.pem").read_bytes()
    assert new != old
    assert new == (made / "tls/site.pem").read_bytes()
    other = run(capsys, ["init", made, "--renew", "--host", "new.example", "--json"]).json()
    assert other["hosts"] == ["new.example", "localhost", "127.0.0.1"]


def test_a_site_whose_loggers_nobody_lists_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(capsys, ["logger", "credentials", "lg-01", "--site", write_site(tmp_path)])
    assert (ran.code, "names no loggers_file" in ran.err) == (1, True)
