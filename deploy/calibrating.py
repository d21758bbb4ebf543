"""`slabhour calibrate`: from a laboratory's cylinders and cubes to a calibration, its plot and a page to sign."""

from __future__ import annotations

import argparse
import json
import math
import re
from collections.abc import Sequence
from pathlib import Path

from cure.accumulate import Law
from cure.breaks import matured, read_breaks, read_temperatures
from cure.calibration import THRESHOLDS_MPA, VALID_MONTHS, Judged, Verdict, calibration_of, judge, months_after, to_toml
from cure.calibration_report import Origin, plot, report
from cure.cubes import JudgedCubes, judge_cubes, read_cubes
from cure.cubes_report import DATUM_WARNING, HOLDS, told
from cure.dashboard.svgchart import alone
from cure.own_cylinders import with_rules
from deploy.calibrate_cli import batch_rules, thresholds_of
from deploy.cli_site import DONE, REFUSED, say
from deploy.made_on import not_ahead
from shared.clock import SystemClock
from shared.errors import Fault, SetupError
from shared.models.base import ID_PATTERN
from shared.models.calibration import Calibration


def _next_version(folder: Path, mix: str) -> int:
    """Return the version after the newest there: an old calibration is never written over."""
    named = re.compile(rf"{re.escape(mix)}-v(\d+)\.(toml|html|svg)")
    found = [int(match[1]) for path in folder.iterdir() if (match := named.fullmatch(path.name)) is not None]
    return max(found, default=0) + 1


def _judged_cubes(args: argparse.Namespace) -> JudgedCubes | None:
    if args.cubes is None:
        return None
    return judge_cubes(read_cubes(Path(args.cubes).read_text(encoding="utf-8"), args.cubes))


def judged_programme(
    breaks: tuple[str, str],
    temperatures: tuple[str, str] | None,
    lab_c: float | None,
    own_j_per_mol: float | None = None,
    thresholds_mpa: Sequence[float] = THRESHOLDS_MPA,
) -> Judged:
    """Read a programme and judge it: what command and page have in common.

    Args:
        breaks: text of the cylinders, and what it is called.
        temperatures: text of their temperatures, and what it is called; None: there is none.
        lab_c: temperature of a laboratory without such a record. [degC]
        own_j_per_mol: the mix's own activation energy, if it is tested. [J/mol]
        thresholds_mpa: strengths that requirements ask for.

    Raises:
        SetupError: every cell that is wrong, with line and column.
    """
    programme = read_breaks(*breaks)
    record = None if temperatures is None else read_temperatures(*temperatures)
    return judge(matured(programme, breaks[1], record, lab_c, own_j_per_mol), thresholds_mpa)


def _judged(args: argparse.Namespace, cubes: JudgedCubes | None, own: Law | None) -> Judged:
    if re.fullmatch(ID_PATTERN, args.mix) is None:
        raise SetupError([Fault("command line", None, "--mix", repr(args.mix), "a-z, 0-9 and -, 1 to 32 of them")])
    thresholds = thresholds_of(args.threshold_mpa or (), "command line", "--")
    record = None
    if args.temperatures is not None:
        record = (Path(args.temperatures).read_text(encoding="utf-8"), args.temperatures)
    breaks = (Path(args.breaks).read_text(encoding="utf-8"), str(Path(args.breaks)))
    energy = None if own is None else own.activation_energy_j_per_mol
    judged = judged_programme(breaks, record, args.lab_c, energy, thresholds or THRESHOLDS_MPA)
    judged.doubts += [] if cubes is None else cubes.against_the_default()
    return judged


def calibrate(args: argparse.Namespace) -> int:
    """Fit a strength curve to a laboratory's cylinders, judge it, and write calibration, plot and a page to sign."""
    not_ahead(args.made_on.isoformat(), SystemClock().now(), "command line", "--made-on")
    rules, cubes, folder = batch_rules(args), _judged_cubes(args), Path(args.out)
    own = None if cubes is None else cubes.law()
    judged = _judged(args, cubes, own)
    folder.mkdir(parents=True, exist_ok=True)
    version = _next_version(folder, args.mix)
    made_on, of_cubes = args.made_on.isoformat(), "" if args.cubes is None else Path(args.cubes).name
    origin = Origin(args.mix, args.dose_class, args.supplier, args.lab, made_on, Path(args.breaks).name, of_cubes)
    calibration: Calibration | None = None
    written = {"svg": alone(plot(judged))}
    if judged.verdict is not Verdict.REFUSED:
        until = args.valid_until or months_after(args.made_on, VALID_MONTHS)
        calibration = calibration_of(judged, args.mix, version, made_on, own, until, args.dose_class)
        calibration = with_rules(calibration, *rules)
        written["toml"] = to_toml(calibration, comments(origin, judged, cubes))
    written["html"] = report(judged, origin, calibration, cubes)
    paths = {kind: folder / f"{args.mix}-v{version}.{kind}" for kind in written}
    for kind, text in written.items():
        with paths[kind].open("x", encoding="utf-8") as file:
            file.write(text)
    if args.json:
        files = {"files": sorted(map(str, paths.values()))}
        say(json.dumps(_as_json(judged, calibration) | _cubes_as_json(cubes) | files))
    else:
        say("\n".join(_lines(judged, cubes, [str(path) for _, path in sorted(paths.items())])))
    return REFUSED if calibration is None else DONE


def comments(origin: Origin, judged: Judged, cubes: JudgedCubes | None) -> list[str]:
    """Return what the file of a calibration says above its numbers."""
    of_cubes = (
        [] if cubes is None else [f"{cubes.number} cubes of {origin.cubes_source}, {cubes.verdict}: {told(cubes)}."]
    )
    return [
        f"Calibration of mix {origin.mix}: {judged.verdict}.",
        f"Dose class {origin.dose_class}; supplier {origin.supplier}; laboratory {origin.laboratory}.",
        f"{len(judged.breaks)} cylinders of {origin.source}; the page beside this file says all of it.",
        *of_cubes,
        "Never changed in place: a better one gets the next version.",
    ]


def _lines(judged: Judged, cubes: JudgedCubes | None, paths: list[str]) -> list[str]:
    said = [f"verdict: {judged.verdict}"]
    said += [f"  because: {reason}" for reason in (*judged.refused, *judged.doubts)]
    said += [f"  test to add: {wanted}" for wanted in judged.wanted]
    if judged.fitted is not None:
        at = [(t, judged.fitted.age_h(t)) for t in judged.thresholds_mpa]
        said += [f"  {t:g} MPa at {h:.1f} h of equivalent age" for t, h in at if h < math.inf]
    if cubes is not None:
        said += [f"cubes: {cubes.verdict}: {told(cubes)}", f"  {HOLDS[cubes.verdict]}", f"  {DATUM_WARNING}"]
        said += [f"  because: {reason}" for reason in (*cubes.refused, *cubes.doubts)]
    return [*said, *(f"written: {path}" for path in paths)]


def _as_json(judged: Judged, calibration: Calibration | None) -> dict[str, object]:
    return {
        "verdict": judged.verdict,
        "reasons": [*judged.refused, *judged.doubts],
        "tests_to_add": judged.wanted,
        "outliers": judged.outliers,
        "calibration": None if calibration is None else calibration.model_dump(mode="json"),
    }


def _cubes_as_json(cubes: JudgedCubes | None) -> dict[str, object]:
    if cubes is None:
        return {}
    line = cubes.line
    return {
        "cubes": {
            "verdict": cubes.verdict,
            "reasons": [*cubes.refused, *cubes.doubts],
            "outliers": cubes.outliers,
            "k_per_d": {f"{at.celsius:g}": 24.0 * at.k_per_h for at in cubes.at if at.fitted is not None},
            "activation_energy_j_per_mol": None if line is None else line.energy_j_per_mol,
            "activation_energy_sd_j_per_mol": None if line is None else line.sd_j_per_mol,
            "datum_c": None if line is None or math.isnan(line.datum_c) else line.datum_c,
        }
    }
