"""Certificate and key files that a table of the site file names."""

from __future__ import annotations

from pathlib import Path

from shared.errors import Fault, SetupError
from shared.models.setup import BrokerSettings, Setup, WebSettings


def pem_files(setup: Setup, table: str, settings: BrokerSettings | WebSettings) -> tuple[Path | None, Path | None]:
    """Return `cert_file` and `key_file` of a table. Raises `SetupError`: one is not there."""
    found: list[Path | None] = []
    for field, name in (("cert_file", settings.cert_file), ("key_file", settings.key_file)):
        path = None if name is None else Path(setup.folder, name).resolve()
        if path is not None and not path.is_file():
            raise SetupError([Fault("site file", None, f"{table}.{field}", f"{path}: no such file", "a PEM file")])
        found.append(path)
    certificate, key = found
    return certificate, key
