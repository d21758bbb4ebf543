"""Text in tables that people open in a spreadsheet."""

from __future__ import annotations

from typing import Final

FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for the beginning of a formula, or looks behind."""


def guarded(text: str) -> str:
    """Return text that no spreadsheet takes for a formula: with ' before what would be one."""
    return f"'{text}" if text.startswith(FORMULA) else text
