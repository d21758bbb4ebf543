"""`slabhour token`: made, shown once, listed without its secret, ended."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

import pytest
from deploy_support import run, write_site

from deploy.cli_site import DONE, REFUSED


def test_a_token_is_shown_once_listed_without_its_secret_and_ended(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site: list[str | Path] = ["--site", write_site(tmp_path), "--json"]
    made = run(capsys, ["token", "make", "office", "--for", "super", "--scope", "read", "--who", "qc-one", *site])
    assert made.code == DONE, made.err
    secret = made.json()["token"]
    assert len(secret) >= 43
    assert made.json()["path"] is None
    listed = run(capsys, ["token", "list", *site])
    assert [(t["no"], t["name"], t["scopes"], t["in_force"]) for t in listed.json()] == [(1, "office", ["read"], True)]
    assert secret not in listed.out
    assert sha256(secret.encode()).hexdigest() not in listed.out
    assert secret.encode() not in (tmp_path / "var" / "site.db").read_bytes()
    calendar = run(
        capsys, ["token", "make", "hours", "--for", "super", "--scope", "calendar", "--who", "qc-one", *site]
    )
    assert calendar.json()["path"] == f"/calendar/{calendar.json()['token']}.ics"
    assert run(capsys, ["token", "end", "1", "--who", "qc-one", *site]).code == DONE
    again = run(capsys, ["token", "end", "1", "--who", "qc-one", *site])
    assert (again.code, "no token 1" in again.err) == (REFUSED, True)
    shown = run(capsys, ["token", "list", *site[:2]])
    assert "1  ended  office: super (read)" in shown.out
    assert "2  in force  hours: super (calendar)" in shown.out
