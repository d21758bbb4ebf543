"""The facts of a message, read without trust: what is missing or odd reads "not known", so that a text results."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from shared.models.base import Json

UNKNOWN: Final = "not known"
_LONGEST: Final = 400
_YEAR_2100_MS: Final = 4_102_444_800_000


def one_line(value: object) -> str:
    """Return the value as one line of printable text."""
    words = "".join(c if c.isprintable() else " " for c in str(value)).split()
    return " ".join(words)[:_LONGEST]


@dataclass(frozen=True, slots=True)
class Facts:
    """Typed looks into a message's JSON."""

    json: Mapping[str, Json]

    def text(self, key: str, default: str = UNKNOWN) -> str:
        """Return a line of text."""
        value = self.json.get(key)
        return (one_line(value) or default) if isinstance(value, str | int | float) else default

    def number(self, key: str) -> float | None:
        """Return a finite number, or None."""
        value = self.json.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            return None
        return float(value)

    def ms(self, key: str) -> int | None:
        """Return an instant in milliseconds, or None."""
        value = self.number(key)
        return int(value) if value is not None and 0 <= value < _YEAR_2100_MS else None

    def flag(self, key: str) -> bool:
        """Return whether the fact is there and true."""
        return self.json.get(key) is True

    def items(self, key: str) -> tuple[str, ...]:
        """Return the lines of a list; empty when there is none."""
        value = self.json.get(key)
        return tuple(one_line(v) for v in value if one_line(v)) if isinstance(value, list | tuple) else ()

    def rows(self, key: str) -> tuple[Facts, ...]:
        """Return the objects of a list, each as facts; what is no object is left out."""
        value = self.json.get(key)
        return tuple(Facts(v) for v in value if isinstance(v, Mapping)) if isinstance(value, list | tuple) else ()

    def numbers(self, key: str) -> tuple[float | None, ...]:
        """Return the numbers of a list, None for what is none."""
        value = self.json.get(key)
        return tuple(Facts({"": v}).number("") for v in value) if isinstance(value, list | tuple) else ()

    def listed(self, key: str, default: str = "none") -> str:
        """Return the lines of a list with commas between."""
        return ", ".join(self.items(key)) or default
