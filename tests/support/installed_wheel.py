"""Run inside an environment that has the wheel: is all of slabhour there, and is it the wheel's own?

Usage: python -I installed_wheel.py CHECKOUT ENVIRONMENT
"""

from __future__ import annotations

import importlib
import sys
from pathlib import Path

PACKAGES = ("ingest", "cure", "alerts", "deploy", "shared")


def _files_of(package: Path) -> set[Path]:
    """Return the package's files, without what running it leaves behind."""
    found = {p.relative_to(package) for p in package.rglob("*") if p.is_file()}
    return {p for p in found if not {"__pycache__", "var"}.intersection(p.parts)}


def missing_from(installed: Path, checkout: Path) -> list[str]:
    """Return the files of the checkout's packages that `installed` lacks."""
    return [
        f"{name}/{path.as_posix()}"
        for name in PACKAGES
        for path in sorted(_files_of(checkout / name) - _files_of(installed / name))
    ]


def main(checkout: Path, environment: Path) -> int:
    """Return 0 when the installed packages are the checkout's, file by file."""
    wrong: list[str] = []
    for name in PACKAGES:
        where = Path(importlib.import_module(name).__path__[0]).resolve()
        if not where.is_relative_to(environment.resolve()):
            wrong.append(f"{name} was imported from {where}, not from the wheel")
    installed = Path(importlib.import_module("shared").__path__[0]).parent
    wrong += [f"{name} is not in the wheel" for name in missing_from(installed, checkout)]
    print("\n".join(wrong) or f"the wheel holds all files of {', '.join(PACKAGES)}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), Path(sys.argv[2])))
