"""The set-up of a site: `site.toml` and the calibrations that it names, whole and valid, or every fault at once."""

from __future__ import annotations

from pathlib import Path

from shared.calibration_checks import calibration_doubts
from shared.errors import Fault, SetupError
from shared.models.calibration import Calibration
from shared.models.setup import Setup, SiteFile
from shared.site_checks import SITE_CHECKS
from shared.toml_model import Document, Doubt, Table, read, shown


def load(path: Path) -> Setup:
    """Read a site file with its calibrations.

    Raises:
        SetupError: with every fault of all these files: file, line, field, what was found, what is allowed.
    """
    site = read(path, SiteFile)
    faults = list(site.faults)
    faults += [site.fault(doubt) for check in SITE_CHECKS for doubt in check(site.table)]
    calibrations: dict[str, Calibration] = {}
    for index, mix in enumerate(site.table.get("mix") or ()):
        if isinstance(mix, dict) and mix.get("calibration") is not None:
            found, wrong = _calibration(path, site, index, mix)
            faults += wrong
            if found is not None:
                calibrations[found.mix] = found
    if faults or site.model is None:
        raise SetupError(sorted(faults, key=lambda fault: (fault.file != site.file, fault.file, fault.line or 0)))
    return Setup(site.model, calibrations, str(path.resolve().parent))


def load_calibration(path: Path) -> Calibration:
    """Read one calibration file by itself. Raises `SetupError` with every fault of it."""
    found = read(path, Calibration)
    faults = _faults(found, None)
    if faults or found.model is None:
        raise SetupError(faults)
    return found.model


def _calibration(
    path: Path, site: Document[SiteFile], index: int, mix: Table
) -> tuple[Calibration | None, list[Fault]]:
    """Read the calibration that the mix at `index` names."""
    named: str = mix["calibration"]
    found = read(path.parent / named, Calibration)
    if any(fault.line is None for fault in found.faults):  # no such file: the mistake is in the site file
        why = found.faults[0]
        doubt = Doubt(("mix", index, "calibration"), f"{shown(named)}, {why.found}", f"{why.allowed}, or none at all")
        return None, [site.fault(doubt)]
    return found.model, _faults(found, mix.get("id"))


def _faults(found: Document[Calibration], mix: str | None) -> list[Fault]:
    doubts = list(calibration_doubts(found.table, mix))
    model = found.model
    if model is not None and model.digest is not None and model.digest != model.digested():
        doubts.append(Doubt(("digest",), "that of another text", "the one that was written with it: calibrate again"))
    return [*found.faults, *map(found.fault, doubts)]
