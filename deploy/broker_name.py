"""The name by which a broker knows the service: it keeps messages under it, so nobody else may guess it.

MQTT lets whoever signs in take the session of any client whose name they say, with all that waits in it: one logger's
password would be enough to lose what every logger was told is kept. Mosquitto and others ask no more than that.
"""

from __future__ import annotations

import hmac
import os
import re
import secrets
from dataclasses import replace
from pathlib import Path
from typing import Final

from ingest.address import BrokerAddress
from shared.errors import BrokerError

FILE: Final = "broker-name"
_TAIL: Final = re.compile(r"[0-9a-f]{16}")


def named(address: BrokerAddress, folder: Path, *, lasting: bool) -> BrokerAddress:
    """Return where the broker is with the name's secret end; of a broker at which nobody signs in it has none.

    The end is written down in the data folder, so that another password leaves nothing behind at the broker. The first
    comes from the password, or from the key of a certificate, if that lasts: who restores a backup elsewhere finds what
    waited here.

    Args:
        address: where the broker is.
        folder: data folder.
        lasting: whether the password is the same at the next start.

    Raises:
        BrokerError: the file cannot be read or written, or says something else.
    """
    path = folder / FILE
    try:
        own = _own_secret(address)
        if own is None:
            return address
        if not path.exists():
            of_own = hmac.new(own, b"slabhour broker-name", "sha256").hexdigest()[:16]
            _write(path, of_own if lasting else secrets.token_hex(8))
        tail = path.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise BrokerError(f"{path}: the service's name at the broker cannot be read or written: {error}") from error
    if not _TAIL.fullmatch(tail):
        mend = "take the file away, and what the broker still keeps under the former name is not fetched"
        raise BrokerError(f"{path} does not hold the service's name at the broker: {mend}")
    return replace(address, name_end=f"-{tail}")


def _own_secret(address: BrokerAddress) -> bytes | None:
    """Return what nobody else has of the way in which the service signs in; None: it does not. Raises `OSError`."""
    if address.user is not None and address.password is not None:
        return address.password.encode()
    return None if address.key_file is None else Path(address.key_file).read_bytes()


def _write(path: Path, tail: str) -> None:
    part = path.with_name(f".{path.name}.part")
    with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8") as file:
        file.write(f"{tail}\n")
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)
