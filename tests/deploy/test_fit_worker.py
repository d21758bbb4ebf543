"""What the process that fits reads and refuses."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest

from cure.dashboard.beside import Programme
from deploy import fit_worker
from deploy.demo.scenario import SITE_FILE
from shared.errors import SetupError

BREAKS = Path(SITE_FILE).with_name("breaks.csv").read_text(encoding="utf-8")
ASKED: dict[str, Any] = dict(
    Programme("c32-f", BREAKS, "", None, "none", "s", "l", "2026-10-19", "", version=2).to_json()
)


@pytest.mark.parametrize(
    ("changes", "what"),
    [
        ({"breaks": "specimen,age_h,strength_mpa\na,12,4 MPa\n", "lab_c": 20.0}, "breaks:2: strength_mpa"),
        ({"breaks": "specimen,age_h,strength_mpa\na,12,4\n"}, "--lab-c"),
        ({"temperatures": "hours,a_c\n0,20\n"}, "temperatures:1: time_h"),
        ({"made_on": "yesterday"}, "made on: found 'yesterday'"),
        ({"valid_until": "2026-13-01"}, "valid until: found"),
    ],
)
def test_what_cannot_be_read_is_said_with_its_place(changes: dict[str, Any], what: str) -> None:
    with pytest.raises(SetupError, match=what):
        fit_worker.judged({**ASKED, **changes})


def test_it_reads_one_object_and_writes_one(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    late = Path(SITE_FILE).with_name("breaks-drifting.csv").read_text(encoding="utf-8")
    for breaks, key, wanted in ((late, "verdict", "refused"), ("", "faults", [dict])):
        monkeypatch.setattr("sys.stdin", io.StringIO(json.dumps({**ASKED, "breaks": breaks})))
        fit_worker.main()
        said = json.loads(capsys.readouterr().out)
        assert said[key] == wanted or [type(fault) for fault in said[key]] == wanted
        assert said.get("calibration") is None
