"""What a logger signs in with: one password for broker and HTTP, made here, kept as a hash by the broker."""

from __future__ import annotations

import base64
import hashlib
import os
import re
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ingest.broker_access import OWN_USER, read_users
from shared.errors import NewSiteError
from shared.models.base import ID_PATTERN, LoggerId
from shared.models.setup import Setup

SERVICE: Final = OWN_USER
BROKER: Final = "broker"
PASSWORDS: Final = f"{BROKER}/passwd"
"""Of Mosquitto, beside the site file, as `slabhour init` lays it down."""
LOGGERS: Final = "secrets/loggers"
_ROUNDS: Final = 101
"""Mosquitto's own. Passwords are of 192 random bits: no number of rounds would add to them."""


@dataclass(frozen=True, slots=True)
class Credentials:
    """What an installer types into a logger."""

    user: LoggerId
    password: str


def hashed(password: str, salt: bytes | None = None) -> str:
    """Return a password as Mosquitto 2 keeps it: `$7$`, PBKDF2 of SHA-512 (mosquitto_passwd(1); seen in 2.0.11)."""
    salted = secrets.token_bytes(12) if salt is None else salt
    digest = hashlib.pbkdf2_hmac("sha512", password.encode(), salted, _ROUNDS)
    return f"$7${_ROUNDS}${base64.b64encode(salted).decode()}${base64.b64encode(digest).decode()}"


def give(setup: Setup, logger: str, *, replace: bool = False) -> Credentials:
    """Make a password for a logger and write it down; the broker is told by whoever runs it.

    Raises:
        NewSiteError: the name is none, or has a password already, or this site keeps none.
        SetupError: the list of loggers cannot be read.
        OSError: a file cannot be written.
    """
    if re.fullmatch(ID_PATTERN, logger) is None or logger == SERVICE:
        raise NewSiteError(f"{logger!r} is no name of a logger: a-z, 0-9 and -, 1 to 32 of them, and not {SERVICE}")
    listed = _list(setup)
    known = read_users(listed.read_text(encoding="utf-8"), listed.name)
    if logger in known and not replace:
        raise NewSiteError(f"{logger} has a password already, in {listed}; --replace makes a new one")
    made = Credentials(LoggerId(logger), secrets.token_urlsafe(24))
    _change(listed, logger, f"{logger} {made.password}", _first_word)
    if (passwords := _passwords(setup)) is not None:
        _change(passwords, logger, f"{logger}:{hashed(made.password)}", _before_colon)
    return made


def take(setup: Setup, logger: str) -> None:
    """Let a logger sign in no more. Raises as `give` does, and when nobody of that name may."""
    listed = _list(setup)
    if logger not in read_users(listed.read_text(encoding="utf-8"), listed.name):
        raise NewSiteError(f"{logger} is not in {listed}: it cannot sign in")
    if (passwords := _passwords(setup)) is not None:
        _change(passwords, logger, None, _before_colon)
    _change(listed, logger, None, _first_word)


def _list(setup: Setup) -> Path:
    site = setup.site
    name = site.broker.loggers_file or site.web.loggers_file
    if name is None:
        mend = "write one, or add the logger to your broker by its own means"
        raise NewSiteError(f"the site file names no loggers_file under [web] or [broker]: {mend}")
    return Path(setup.folder, name)


def _passwords(setup: Setup) -> Path | None:
    """Return Mosquitto's file beside the site file; None: the embedded broker, or one that is run elsewhere."""
    path = Path(setup.folder, PASSWORDS)
    return path if setup.site.broker.kind == "url" and path.is_file() else None


def _first_word(line: str) -> str:
    return line.partition("#")[0].strip().partition(" ")[0]


def _before_colon(line: str) -> str:
    return line.partition(":")[0]


def _change(path: Path, name: str, line: str | None, named: Callable[[str], str]) -> None:
    """Write a file anew without the line of that name, and with the new one; whole or not at all, same owner, mode."""
    was = path.stat()
    lines = [one for one in path.read_text(encoding="utf-8").splitlines() if named(one) != name]
    new = path.with_name(f"{path.name}.new")
    new.unlink(missing_ok=True)
    with os.fdopen(os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as file:
        file.write("".join(f"{one}\n" for one in (*lines, *([] if line is None else [line]))))
        file.flush()
        os.fsync(file.fileno())
        if os.geteuid() == 0:
            os.fchown(file.fileno(), was.st_uid, was.st_gid)
        os.fchmod(file.fileno(), was.st_mode & 0o777)
    new.replace(path)
