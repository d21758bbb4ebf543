"""Each row that could let a wrong release out has a test, which fails when the row's defence is switched off."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Mapping

import pytest
from defences import ROWS, SWITCHES, row_of
from defences_proofs import PROOFS
from repo_support import ROOT


def test_every_row_has_a_switch_and_every_switch_a_test_that_notices() -> None:
    assert {row_of(switch) for switch in SWITCHES} == set(ROWS)
    assert set(PROOFS) == set(SWITCHES)


@pytest.mark.parametrize("switch", SWITCHES)
def test_a_switch_finds_its_defence_in_the_product_and_leaves_nothing_behind(switch: str) -> None:
    with pytest.MonkeyPatch.context() as patch:
        before = len(patch._setattr) + len(patch._setitem)
        SWITCHES[switch](patch)
        assert len(patch._setattr) + len(patch._setitem) > before


def with_defences_off() -> Mapping[str, Mapping[str, list[str]]]:
    """Return what the proof of each defence did with that defence switched off."""
    tests = [f"tests/{test}" for test in dict.fromkeys(PROOFS.values())]
    command = [sys.executable, "-m", "pytest", "-p", "defences_off", "-q", "-p", "no:cacheprovider", *tests]
    path = os.pathsep.join([str(ROOT / "tests" / "support"), os.environ.get("PYTHONPATH", "")])
    surroundings = {**os.environ, "PYTHONPATH": path}
    ran = subprocess.run(command, cwd=ROOT, env=surroundings, capture_output=True, text=True, timeout=600, check=False)
    lines = [line.removeprefix("switch ") for line in ran.stdout.splitlines() if line.startswith("switch {")]
    assert lines, ran.stdout[-4000:] + ran.stderr[-4000:]
    return {said["switch"]: said for said in map(json.loads, lines)}


def complaint(switch: str, said: Mapping[str, list[str]] | None) -> str | None:
    """Return what is wrong with the proof of a defence, or None."""
    row = row_of(switch)
    if said is None:
        return f'{PROOFS[switch]} does not carry @pytest.mark.row("{row}"): {ROWS[row]}'
    return None if said["failed"] else f"{switch}, {ROWS[row]}: nobody noticed; {said}"


@pytest.mark.long
def test_the_proof_of_each_defence_fails_when_it_is_switched_off() -> None:
    found = with_defences_off()
    assert [wrong for switch in SWITCHES if (wrong := complaint(switch, found.get(switch)))] == []
