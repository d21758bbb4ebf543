"""Text in tables that people open in a spreadsheet."""

from __future__ import annotations

from typing import Final

FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What a spreadsheet takes for the beginning of a formula, or looks behind; the last four are the wide forms."""


def guarded(text: str) -> str:
    """Return text that no spreadsheet takes for a formula: with ' before what would be one."""
    return f"'{text}" if text.startswith(FORMULA) else text
