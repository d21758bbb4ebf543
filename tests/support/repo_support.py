"""The checkout as the rules about it see it."""

from __future__ import annotations

import subprocess
import tomllib
from functools import cache
from pathlib import Path
from typing import Any, Final

ROOT: Final = Path(__file__).resolve().parents[2]
PACKAGES: Final = ("ingest", "cure", "alerts", "deploy", "shared")


@cache
def files() -> tuple[Path, ...]:
    """Return the files that are, or would be, committed, relative to the top folder."""
    asked = subprocess.run(
        ["git", "-C", str(ROOT), "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        capture_output=True,
        text=True,
        check=False,
    )
    if asked.returncode == 0 and (ROOT / ".git").exists():
        found = [Path(name) for name in asked.stdout.split("\0") if name]
    else:  # a copy without its history
        found = [p.relative_to(ROOT) for p in ROOT.rglob("*") if p.is_file()]
        left_by_tools = {".venv", ".git", "__pycache__", ".mypy_cache", ".ruff_cache", ".pytest_cache", ".hypothesis"}
        left_by_tools |= {".import_linter_cache", "dist", "var"}
        found = [p for p in found if not left_by_tools.intersection(p.parts)]
    return tuple(sorted(p for p in found if (ROOT / p).is_file()))


@cache
def pyproject() -> dict[str, Any]:
    """Return `pyproject.toml`."""
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
