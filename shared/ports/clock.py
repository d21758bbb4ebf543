"""Site time."""

from __future__ import annotations

from typing import Protocol

from shared.models.base import Ms


class Clock(Protocol):
    """Site time."""

    def now(self) -> Ms:
        """Return the site's time."""
        ...

    def boot(self) -> tuple[str, int]:
        """Return the boot's id and the milliseconds since it, suspend included."""
        ...

    def synchronised(self) -> bool:
        """Return whether the host's clock is known to be right."""
        ...
