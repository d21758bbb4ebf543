"""What a person ticks before a pour, after looking: documents of a name of their own, that no requirement goes by."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

TICKS: Final[Mapping[str, str]] = {
    "covers": "before the pour: covers on site",
    "ice-free": "before the pour: forms and steel free of ice and snow",
}
"""What is ticked, and the name of the document by which it is on file for the bay."""
