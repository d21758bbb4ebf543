"""Fits in a process of their own: the same verdict as the command's, and nothing of scipy here."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from shutil import which

import pytest

from cure.dashboard.beside import Programme
from deploy import fitting
from deploy.calibrating import judged_programme
from deploy.demo.scenario import SITE_FILE
from shared.errors import SetupError, StoreError
from shared.sitefile import load_calibration

BREAKS = Path(SITE_FILE).with_name("breaks.csv").read_text(encoding="utf-8")
PROGRAMME = Programme("c32-f", BREAKS, "", None, "none", "s", "l", "2026-10-19", "", 2)


def test_the_pages_and_the_command_judge_alike(tmp_path: Path) -> None:
    found, own = fitting.fitted(PROGRAMME), judged_programme((BREAKS, "breaks"), None, None)
    assert found.verdict == own.verdict == "fit for release"
    assert found.reasons == (*own.refused, *own.doubts) == ()
    assert found.cylinders == tuple((b.specimen, b.equivalent_age_h, b.mpa) for b in own.breaks)
    assert found.calibration is not None
    assert found.calibration.digest == found.calibration.digested()
    assert (found.calibration.version, str(found.calibration.valid_until)) == (2, "2027-04-19")
    file = tmp_path / "c32-f-v2.toml"
    file.write_text(found.file, encoding="utf-8")
    assert load_calibration(file) == found.calibration


def test_what_cannot_be_read_is_said_with_its_line() -> None:
    with pytest.raises(SetupError, match="breaks:2: strength_mpa: found '4 MPa'"):
        fitting.fitted(replace(PROGRAMME, breaks="specimen,age_h,strength_mpa\na,12,4 MPa\n"))


def test_a_process_that_fails_or_takes_too_long_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as changed:
        changed.setattr(fitting, "PATIENCE_S", 0.001)
        with pytest.raises(StoreError, match="timed out"):
            fitting.fitted(PROGRAMME)
    monkeypatch.setattr(sys, "executable", which("false"))
    with pytest.raises(StoreError, match="no reason given"):
        fitting.fitted(PROGRAMME)


def test_what_asks_for_a_fit_does_not_load_what_fits() -> None:
    code = "import sys, deploy.fitting; print('scipy' in sys.modules)"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert ran.stdout.strip() == "False"
