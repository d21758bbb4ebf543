"""Certificate authorities of the tests' own, and what they sign: good, or past its end."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

import pytest

_KEY = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"]


@dataclass(frozen=True, slots=True)
class Authority:
    """An authority in a folder."""

    folder: Path
    name: str

    @property
    def certificate(self) -> Path:
        """What trusts it is given this."""
        return self.folder / f"{self.name}.pem"

    def signed(self, name: str, days: int = 2) -> tuple[Path, Path]:
        """Return a certificate for 127.0.0.1 that holds for so many days, and its key; less than none: it is past."""
        asked, key, made = (self.folder / f"{self.name}-{name}.{end}" for end in ("csr", "key", "pem"))
        (self.folder / "names").write_text("subjectAltName=IP:127.0.0.1\n", encoding="utf-8")
        _openssl("req", *_KEY, "-subj", "/CN=broker", "-keyout", key, "-out", asked)
        by: list[str | Path] = ["-CA", self.certificate, "-CAkey", self.folder / f"{self.name}.key", "-CAcreateserial"]
        _openssl("x509", "-req", "-in", asked, *by, "-days", str(days), "-extfile", self.folder / "names", "-out", made)
        return made, key


def authority_in(folder: Path, name: str) -> Authority:
    """Make an authority."""
    if shutil.which("openssl") is None:
        pytest.skip("openssl is not installed")
    made = Authority(folder, name)
    key = folder / f"{name}.key"
    _openssl("req", "-x509", *_KEY, "-days", "2", "-subj", f"/CN={name}", "-keyout", key, "-out", made.certificate)
    return made


def _openssl(*said: str | Path) -> None:
    subprocess.run(["openssl", *said], check=True, capture_output=True, timeout=60)
