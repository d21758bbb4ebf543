"""How many times as much is run of what is random or killed."""

from __future__ import annotations

import os
from typing import Final

SCALE: Final = float(os.environ.get("FAULT_SCALE", "1"))
"""1 in CI."""
