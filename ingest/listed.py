"""Files in which loggers stand beside what only they know: a line each, name and secret apart by blanks; `#` begins a
remark. No secret is repeated in what is said of a fault.
"""

from __future__ import annotations

import re
from collections.abc import Container
from dataclasses import dataclass
from typing import Final

from shared.errors import Fault, SetupError
from shared.models.base import ID_PATTERN, LoggerId

_NAME: Final = ID_PATTERN.strip("^$")


@dataclass(frozen=True, slots=True)
class Listed:
    """What such a file lists."""

    field: str
    secret: str
    """Pattern of a secret."""
    wanted: str
    """What a line must be."""
    once: str = "each logger once"
    taken: Container[str] = ()
    """Names that no logger may have."""


def read_listed(text: str, file: str, of: Listed) -> dict[LoggerId, str]:
    """Return each logger's secret. Raises `SetupError` with every line that is none, and every name twice."""
    line_of = re.compile(rf"(?P<name>{_NAME})\s+(?P<secret>{of.secret})")
    found: dict[LoggerId, str] = {}
    faults = []
    for number, line in enumerate(text.splitlines(), 1):
        said = line.partition("#")[0].strip()
        if not said:
            continue
        match = line_of.fullmatch(said)
        if match is None:
            faults.append(Fault(file, number, of.field, "a line that is none", of.wanted))
        elif match["name"] in found or match["name"] in of.taken:
            faults.append(Fault(file, number, of.field, repr(match["name"]), of.once))
        else:
            found[LoggerId(match["name"])] = match["secret"]
    if faults:
        raise SetupError(faults)
    return found
