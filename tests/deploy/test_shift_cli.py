"""The sheet by the command is the page's; taking over asks for the code of what stands."""

from __future__ import annotations

from pathlib import Path

import pytest
from deploy_support import POUR, little_service, poured, run

from deploy.cli_site import DONE, REFUSED


def test_the_sheet_is_read_and_taken_over_by_its_code(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with little_service(tmp_path) as (service, clock):
        for act in poured():
            clock.set(act.at_ms)
            service.apply(act)
    site: list[str | Path] = ["--site", tmp_path / "site.toml"]
    found = run(capsys, ["shift", *site, "--json"]).json()
    assert [entry["of"] for entry in found["forms"]] == [POUR.rpartition("-")[0]]
    assert found["shift"]["taken_over"] == []
    text = run(capsys, ["shift", *site]).out
    assert f"sheet {found['code']}" in text
    assert "nobody has taken this shift over" in text
    assert "nothing: " in text
    assert "govern" in text
    refused = run(capsys, ["take-over", "0123456789ab", "--who", "super", *site])
    assert refused.code == REFUSED
    assert "slabhour shift" in refused.err
    assert run(capsys, ["take-over", found["code"], "--note", "pump at 7", "--who", "super", *site]).code == DONE
    again = run(capsys, ["shift", *site, "--json"]).json()
    assert [(taken["who"], taken["note"]) for taken in again["shift"]["taken_over"]] == [("super", "pump at 7")]
