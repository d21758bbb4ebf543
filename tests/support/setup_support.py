"""A valid site file and its calibration, written into a folder of the test's own."""

from __future__ import annotations

from pathlib import Path
from typing import Final

SITE: Final = """\
[site]
id = "millrace"
name = "Millrace House"
zone = "America/Halifax"
units = "SI"
clock_sync = "not-checked"
interval_s = 900
data = "var"
[plan]
use = "common-practice"
adopted_by = "engineer of record"
document = "release-criteria-rev2.pdf"
sign_offs = 1
second_check = false
[stores]
readings = { kind = "sqlite" }
[broker]
kind = "embedded"
port = 1883
[[mix]]
id = "c32-f"
supplementary = false
specified_mpa = 32
calibration = "calibrations/c32-f-v1.toml"
[[bay]]
id = "2-b1"
floor = "2"
mix = "c32-f"
thickness_mm = 100
joist_spacing_mm = 1220
neighbours = ["2-b2"]
exclusions = "none"
construction_load_kpa = 1.0
sensors = [
  { id = "lg-01.1", zone = "exposed edge", depth_mm = 50 },
  { id = "lg-01.2", zone = "interior" }, { id = "lg-09.1", zone = "air" },
]
[[bay]]
id = "2-b2"
floor = "2"
mix = "c32-f"
thickness_mm = 100
joist_spacing_mm = 1220
neighbours = ["2-b1"]
below = ["2-b1"]
exclusions = "stair opening"
sensors = [{ id = "lg-02.1", zone = "last-placed end" }]
[[recipient]]
id = "super"
role = "superintendent"
shift = "06:30-17:00"
channels = [{ kind = "email", to = "super@millrace.example" }, { kind = "inbox" }]
[[recipient]]
id = "qc-one"
role = "qc"
[channel.email]
host = "127.0.0.1"
port = 2525
sender = "slab@millrace.example"
"""

CALIBRATION: Final = """\
mix = "c32-f"
version = 1
made_on = 2026-10-05
curve = "exponential"
degrees_of_freedom = 12
tested_from_h = 9.0
tested_to_h = 700.0
activation_energy_kj_per_mol = 38.0
activation_energy_sd_kj_per_mol = 2.5
activation_energy_from_c = 8.0
activation_energy_to_c = 38.0
covariance = [
  [0.9, 0.05, 0.001],
  [0.05, 0.4, 0.0002],
  [0.001, 0.0002, 0.0004],
]
[parameters]
su_mpa = 38.0
tau_h = 22.0
beta = 0.85
"""


def written(folder: Path, site: str = SITE, calibration: str = CALIBRATION) -> Path:
    """Write both files; return the site file."""
    path = folder / "site.toml"
    path.write_text(site, encoding="utf-8")
    (folder / "calibrations").mkdir(exist_ok=True)
    (folder / "calibrations" / "c32-f-v1.toml").write_text(calibration, encoding="utf-8")
    return path


def changed(text: str, old: str, new: str, occurrence: int = 1) -> str:
    """Return the text with one occurrence of `old` replaced; it must be there."""
    parts = text.split(old)
    assert len(parts) > occurrence, f"{old!r} does not occur {occurrence} times"
    return old.join(parts[:occurrence]) + new + old.join(parts[occurrence:])


def line_of(text: str, part: str, occurrence: int = 1) -> int:
    """Return the line, counted from 1, where `part` stands."""
    return text.count("\n", 0, len(part.join(text.split(part)[:occurrence]))) + 1
