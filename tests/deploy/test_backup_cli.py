from __future__ import annotations

from pathlib import Path

import pytest
from backup_support import little_setup, released_site, service_of
from deploy_support import run


@pytest.mark.row("S14")
def test_a_backup_is_made_beside_a_running_service_and_restored_by_two_commands(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    setup = released_site(tmp_path)
    to = tmp_path / "backups"
    site: list[str | Path] = ["--site", tmp_path / "site.toml"]
    with service_of(setup):
        made = run(capsys, ["backup", to, *site, "--json"])
        assert (made.code, made.err) == (0, "")
    said = made.json()
    assert said["files"] == ["site.db", "readings.db"]
    assert said["not_in_it"] is None
    assert Path(said["backup"]).parent == to
    refused = run(capsys, ["restore", to, *site])
    assert (refused.code, refused.out) == (1, "")
    assert "--replace puts them aside" in refused.err
    restored = run(capsys, ["restore", to, *site, "--replace", "--json"])
    assert restored.code == 0
    assert restored.json()["backup"] == said["backup"]
    assert restored.json()["log_line"] == said["log_line"]
    again = run(capsys, ["restore", to, *site, "--replace"])
    assert "every gate is suspended until the engineer says `slabhour resume log --why ...`" in again.out
    assert "what was there is in " in again.out
    # The restored book has a release; nobody who looks before the service runs may take it for one.
    shown = run(capsys, ["status", *site]).out
    assert shown.startswith("IN DOUBT: restored from an older copy, to log line ")
    assert "RELEASED" in shown
    assert run(capsys, ["status", *site, "--json"]).json()["restored"][0].startswith("IN DOUBT")
    assert "accepted by nobody: nothing below is a release" in run(capsys, ["check", *site]).out
    (tmp_path / "var" / "restored.json").write_text("{")
    assert run(capsys, ["status", *site]).out.startswith("IN DOUBT: ")
    checked = run(capsys, ["backup", to, *site])
    assert checked.code == 1
    assert "a restore was not finished; do it again" in checked.err


def test_what_cannot_be_backed_up_or_restored_is_said_without_a_traceback(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    little_setup(tmp_path)
    site: list[str | Path] = ["--site", tmp_path / "site.toml"]
    nothing = run(capsys, ["backup", tmp_path / "backups", *site])
    assert (nothing.code, nothing.out) == (1, "")
    assert "nothing to back up yet" in nothing.err
    none = run(capsys, ["restore", tmp_path / "nowhere", *site])
    assert none.code == 1
    assert "is no backup" in none.err
    assert not list((tmp_path / "var").glob("*.db"))


def test_of_a_site_on_influxdb_both_commands_say_what_is_not_in_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    released_site(tmp_path)
    path = tmp_path / "site.toml"
    server = 'readings = { kind = "influxdb", url = "http://127.0.0.1:9", bucket = "slab" }'
    path.write_text(path.read_text().replace('readings = { kind = "sqlite" }', server))
    for command in (["backup"], ["restore", "--replace"]):
        ran = run(capsys, [*command, tmp_path / "backups", "--site", path])
        assert ran.code == 0
        assert "back that up by its own means" in ran.out
