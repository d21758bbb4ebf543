"""Invented sites of any size, for measuring."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from shared.models.setup import Setup
from shared.sitefile import load

DEMO: Final = Path(__file__).parent.parent / "demo"
ZONES: Final = ("exposed edge", "interior", "last-placed end", "top", "air")
_HEAD: Final = """\
[site]
id = "bench"
name = "Bench"
zone = "America/Halifax"
clock_sync = "not-checked"
interval_s = 900
data = "var"
[plan]
use = "common-practice"
adopted_by = "invented"
document = "invented"
sign_offs = 1
second_check = false
[broker]
kind = "embedded"
port = {port}
[web]
port = 0
[[mix]]
id = "c32-f"
supplementary = false
calibration = "c32-f-v1.toml"
[[recipient]]
id = "engineer"
role = "engineer"
shift = "00:01-00:00"
channels = [{{ kind = "inbox" }}]
[[recipient]]
id = "super"
role = "superintendent"
channels = [{{ kind = "inbox" }}]
[[recipient]]
id = "installer"
role = "installer"
channels = [{{ kind = "inbox" }}]
"""
_BAY: Final = """\
[[bay]]
id = "{bay}"
floor = "1"
mix = "c32-f"
thickness_mm = 100
joist_spacing_mm = 1220
exclusions = "none"
construction_load_kpa = 1.0
sensors = [{sensors}]
"""


def bay_name(n: int) -> str:
    """Return the name of a bay."""
    return f"b-{n}"


def logger_name(bay: int, k: int) -> str:
    """Return the name of a bay's logger; each has one sensor, `.1`."""
    return f"lg-{bay}-{k}"


def site(folder: Path, bays: int, loggers: int, port: int = 1883) -> Setup:
    """Write a site with so many bays, and loggers in each, and load it."""
    parts = [_HEAD.format(port=port)]
    for n in range(bays):
        sensors = (
            f'{{ id = "{logger_name(n, k)}.1", zone = "{zone}", depth_mm = 50 }}'
            for k, zone in enumerate(ZONES[:loggers])
        )
        parts.append(_BAY.format(bay=bay_name(n), sensors=", ".join(sensors)))
    path = folder / "site.toml"
    path.write_text("".join(parts), encoding="utf-8")
    calibration = DEMO / "calibrations" / "c32-f-v1.toml"
    (folder / "c32-f-v1.toml").write_text(calibration.read_text(encoding="utf-8"), encoding="utf-8")
    return load(path)
