"""A private authority for one site, and the certificates that it signs, made by `openssl`.

Loggers and phones are given the authority once; the server's certificate is renewed without touching them.
"""

from __future__ import annotations

import ipaddress
import re
import shutil
import subprocess
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from shared.errors import NewSiteError

AUTHORITY: Final = "ca.pem"
AUTHORITY_KEY: Final = "ca.key"
CERTIFICATE: Final = "site.pem"
KEY: Final = "site.key"
AUTHORITY_DAYS: Final = 3650
CERTIFICATE_DAYS: Final = 730
"""Devices refuse one that is for longer than 825 days, also of a private authority (from memory)."""
PATIENCE_S: Final = 60
_CURVE: Final = ("-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes")
_HOST: Final = re.compile(r"(?=.{1,253}$)[A-Za-z0-9]([A-Za-z0-9.-]*[A-Za-z0-9])?")


def host(text: str) -> str:
    """Return a name or address for which a certificate can be. Raises `NewSiteError`."""
    try:
        return str(ipaddress.ip_address(text))
    except ValueError:
        pass
    if _HOST.fullmatch(text) is None:
        raise NewSiteError(f"{text!r} is no name or address of a machine, like slabhour.site.example or 192.168.1.20")
    return text


def _openssl(folder: Path, *arguments: str) -> str:
    """Run it in a folder; return what it printed. Raises `NewSiteError`."""
    program = shutil.which("openssl")
    if program is None:
        raise NewSiteError("openssl is not installed, which makes the certificates: apt-get install openssl")
    command = [program, *arguments]
    try:
        done = subprocess.run(  # noqa: S603 - fixed words, and hosts that were looked at
            command, cwd=folder, capture_output=True, text=True, timeout=PATIENCE_S, check=False
        )
    except subprocess.TimeoutExpired as error:
        raise NewSiteError(f"openssl {arguments[0]} did not end within {PATIENCE_S} s") from error
    if done.returncode != 0:
        raise NewSiteError(f"openssl {arguments[0]} failed: {done.stderr.strip()[-500:]}")
    return done.stdout


def make_authority(folder: Path, name: str) -> None:
    """Make the authority of a site in `folder`; its key is of no use but to sign."""
    said = ("basicConstraints=critical,CA:TRUE,pathlen:0", "keyUsage=critical,keyCertSign,cRLSign")
    more = [word for one in said for word in ("-addext", one)]
    made = ("-keyout", AUTHORITY_KEY, "-out", AUTHORITY, "-days", str(AUTHORITY_DAYS), "-subj", f"/CN={name}")
    _openssl(folder, "req", "-x509", *_CURVE, *made, *more)
    (folder / AUTHORITY_KEY).chmod(0o400)


def issue(folder: Path, hosts: Sequence[str]) -> None:
    """Make a certificate for these hosts, signed by the authority in `folder`, in place of the one that is there.

    Args:
        folder: with the authority and its key.
        hosts: names and addresses by which loggers and phones reach the machine, the first its name.

    Raises:
        NewSiteError: there is no authority, or openssl failed; what was there stays.
    """
    if not (folder / AUTHORITY_KEY).is_file():
        raise NewSiteError(f"{folder / AUTHORITY_KEY} is not there: only where the authority's key is can it sign")
    with tempfile.TemporaryDirectory(dir=folder) as made:
        new = Path(made)
        (new / "more").write_text(_extensions(hosts), encoding="ascii")
        _openssl(new, "req", "-new", *_CURVE, "-keyout", KEY, "-out", "asked", "-subj", f"/CN={hosts[0][:64]}")
        signed = ("-CA", f"../{AUTHORITY}", "-CAkey", f"../{AUTHORITY_KEY}", "-CAcreateserial", "-extfile", "more")
        _openssl(new, "x509", "-req", "-in", "asked", "-out", CERTIFICATE, "-days", str(CERTIFICATE_DAYS), *signed)
        (new / KEY).chmod(0o400)
        for name in (KEY, CERTIFICATE):
            (new / name).replace(folder / name)


def _extensions(hosts: Sequence[str]) -> str:
    names = ",".join(f"{'IP' if _is_address(one) else 'DNS'}:{one}" for one in hosts)
    used = "basicConstraints=critical,CA:FALSE\nkeyUsage=critical,digitalSignature\nextendedKeyUsage=serverAuth\n"
    return f"{used}subjectAltName={names}\n"


def _is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True


def hosts_of(folder: Path) -> list[str]:
    """Return for which hosts the certificate in `folder` is. Raises `NewSiteError`."""
    told = _openssl(folder, "x509", "-in", CERTIFICATE, "-noout", "-ext", "subjectAltName")
    return [host(found) for found in re.findall(r"(?:DNS|IP Address):([^,\s]+)", told)]
