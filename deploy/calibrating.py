"""`slabhour calibrate`: from a laboratory's cylinders to a calibration, its plot and a page to sign."""

from __future__ import annotations

import argparse
import json
import re
from pathlib import Path

from cure.breaks import matured, read_breaks, read_temperatures
from cure.calibration import THRESHOLDS_MPA, Judged, Verdict, calibration_of, judge, to_toml
from cure.calibration_report import Origin, plot, report
from deploy.cli_site import DONE, REFUSED, say
from shared.errors import Fault, SetupError
from shared.models.base import ID_PATTERN
from shared.models.calibration import Calibration


def _next_version(folder: Path, mix: str) -> int:
    """Return the version after the newest there: an old calibration is never written over."""
    named = re.compile(rf"{re.escape(mix)}-v(\d+)\.(toml|html|svg)")
    found = [int(match[1]) for path in folder.iterdir() if (match := named.fullmatch(path.name)) is not None]
    return max(found, default=0) + 1


def _judged(args: argparse.Namespace) -> Judged:
    if re.fullmatch(ID_PATTERN, args.mix) is None:
        raise SetupError([Fault("command line", None, "--mix", repr(args.mix), "a-z, 0-9 and -, 1 to 32 of them")])
    source = Path(args.breaks)
    programme = read_breaks(source.read_text(encoding="utf-8"), str(source))
    record = None
    if args.temperatures is not None:
        record = read_temperatures(Path(args.temperatures).read_text(encoding="utf-8"), args.temperatures)
    return judge(matured(programme, str(source), record, args.lab_c), args.threshold_mpa or THRESHOLDS_MPA)


def calibrate(args: argparse.Namespace) -> int:
    """Fit a strength curve to a laboratory's cylinders, judge it, and write calibration, plot and a page to sign."""
    judged, folder = _judged(args), Path(args.out)
    folder.mkdir(parents=True, exist_ok=True)
    version = _next_version(folder, args.mix)
    made_on = args.made_on.isoformat()
    origin = Origin(args.mix, args.dose_class, args.supplier, args.lab, made_on, Path(args.breaks).name)
    calibration: Calibration | None = None
    written = {"svg": plot(judged)}
    if judged.verdict is not Verdict.REFUSED:
        calibration = calibration_of(judged, args.mix, version, made_on)
        written["toml"] = to_toml(calibration, _comments(origin, judged))
    written["html"] = report(judged, origin, calibration)
    paths = {kind: folder / f"{args.mix}-v{version}.{kind}" for kind in written}
    for kind, text in written.items():
        with paths[kind].open("x", encoding="utf-8") as file:
            file.write(text)
    if args.json:
        say(json.dumps(_as_json(judged, calibration) | {"files": sorted(map(str, paths.values()))}))
    else:
        say("\n".join(_lines(judged, [str(path) for _, path in sorted(paths.items())])))
    return REFUSED if calibration is None else DONE


def _comments(origin: Origin, judged: Judged) -> list[str]:
    return [
        f"Calibration of mix {origin.mix}: {judged.verdict}.",
        f"Dose class {origin.dose_class}; supplier {origin.supplier}; laboratory {origin.laboratory}.",
        f"{len(judged.breaks)} cylinders of {origin.source}; the page beside this file says all of it.",
        "Never changed in place: a better one gets the next version.",
    ]


def _lines(judged: Judged, paths: list[str]) -> list[str]:
    said = [f"verdict: {judged.verdict}"]
    said += [f"  because: {reason}" for reason in (*judged.refused, *judged.doubts)]
    said += [f"  test to add: {wanted}" for wanted in judged.wanted]
    if judged.fitted is not None:
        said += [f"  {t:g} MPa at {judged.fitted.age_h(t):.1f} h of equivalent age" for t in judged.thresholds_mpa]
    return [*said, *(f"written: {path}" for path in paths)]


def _as_json(judged: Judged, calibration: Calibration | None) -> dict[str, object]:
    return {
        "verdict": judged.verdict,
        "reasons": [*judged.refused, *judged.doubts],
        "tests_to_add": judged.wanted,
        "outliers": judged.outliers,
        "calibration": None if calibration is None else calibration.model_dump(mode="json"),
    }
