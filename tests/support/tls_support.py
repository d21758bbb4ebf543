"""A certificate of the tests' own."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

NAME = "site.example"


def certificate_in(folder: Path, name: str = "cert") -> tuple[Path, Path]:
    """Make a certificate for a name that is not this machine's; return it and its key."""
    if shutil.which("openssl") is None:
        pytest.skip("openssl is not installed")
    cert, key = folder / f"{name}.pem", folder / f"{name}-key.pem"
    made = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", f"/CN={NAME}"]
    made += ["-addext", f"subjectAltName=DNS:{NAME}"]
    subprocess.run([*made, "-keyout", key, "-out", cert], check=True, capture_output=True, timeout=60)
    return cert, key
