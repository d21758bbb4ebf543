"""The process in which the pages' programmes are fitted and judged: one JSON object in, one out.

Run as `python -m deploy.fit_worker`; it loads scipy, which the service that shows pages does without.
"""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Mapping
from dataclasses import asdict
from datetime import date
from typing import Any

from cure.calibration import THRESHOLDS_MPA, VALID_MONTHS, Verdict, calibration_of, months_after, to_toml
from cure.calibration_report import Origin
from cure.cubes import JudgedCubes, judge_cubes, read_cubes
from cure.cubes_report import rates_of
from cure.own_cylinders import with_rules
from deploy.calibrate_cli import rules_of, thresholds_of
from deploy.calibrating import comments, judged_programme
from shared.errors import Fault, SetupError

PASTED = "breaks"
"""What the text of cylinders is called in faults and in the file."""
CUBES = "cubes"
"""Likewise that of mortar cubes."""


def _day(text: str, field: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise SetupError([Fault("form", None, field, repr(text), "a date, such as 2026-11-02")]) from None


def judged(asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return what becomes of a programme, as a JSON object.

    Args:
        asked: the fields of `cure.dashboard.beside.Programme`.

    Raises:
        SetupError: what cannot be read, where, and what is allowed.
    """
    made_on = _day(asked["made_on"], "made on")
    until = months_after(made_on, VALID_MONTHS)
    if asked["valid_until"]:
        until = _day(asked["valid_until"], "valid until")
    record = (asked["temperatures"], "temperatures") if asked["temperatures"].strip() else None
    rules, thresholds = rules_of(asked, "form"), thresholds_of(asked["thresholds_mpa"], "form")
    cubes = judge_cubes(read_cubes(asked["cubes"], CUBES)) if asked["cubes"].strip() else None
    own = None if cubes is None else cubes.law()
    energy = None if own is None else own.activation_energy_j_per_mol
    breaks = (asked["breaks"], PASTED)
    found = judged_programme(breaks, record, asked["lab_c"], energy, thresholds or THRESHOLDS_MPA)
    found.doubts += [] if cubes is None else cubes.against_the_default()
    calibration, file = None, ""
    if found.verdict is not Verdict.REFUSED:
        made = (asked["mix"], asked["version"], made_on.isoformat())
        calibration = with_rules(calibration_of(found, *made, own, until, asked["dose_class"]), *rules)
        names = (asked["mix"], asked["dose_class"], asked["supplier"], asked["laboratory"])
        origin = Origin(*names, made_on.isoformat(), PASTED, "" if cubes is None else CUBES)
        file = to_toml(calibration, comments(origin, found, cubes))
    return {
        "verdict": found.verdict,
        "reasons": [*found.refused, *found.doubts],
        "wanted": found.wanted,
        "outliers": found.outliers,
        "cylinders": [[b.specimen, b.equivalent_age_h, b.mpa] for b in found.breaks],
        "thresholds_mpa": list(found.thresholds_mpa),
        "calibration": None if calibration is None else calibration.model_dump(mode="json"),
        "file": file,
        "cubes": None if cubes is None else _of_cubes(cubes),
    }


def _of_cubes(cubes: JudgedCubes) -> dict[str, Any]:
    line = cubes.line
    return {
        "number": cubes.number,
        "verdict": cubes.verdict,
        "reasons": [*cubes.refused, *cubes.doubts],
        "energy_kj_per_mol": None if line is None else line.energy_j_per_mol / 1000.0,
        "sd_kj_per_mol": None if line is None else line.sd_j_per_mol / 1000.0,
        "tested_c": list(cubes.tested_c),
        "datum_c": None if line is None or math.isnan(line.datum_c) else line.datum_c,
        "rates": [[rate.celsius, rate.k_per_d, rate.ln_k_sd] for rate in rates_of(cubes)],
        "ln_k_at_zero": None if line is None else line.at_zero + math.log(24.0),
    }


def main() -> None:
    """Read one programme from standard input, and write what becomes of it, or what is wrong with it."""
    asked = json.load(sys.stdin)
    try:
        answer = judged(asked)
    except SetupError as error:
        answer = {"faults": [asdict(fault) for fault in error.faults]}
    json.dump(answer, sys.stdout)


if __name__ == "__main__":
    main()
