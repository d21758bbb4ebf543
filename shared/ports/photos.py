"""Pictures of tickets: kept by what is in them, beside the site book."""

from __future__ import annotations

from typing import Protocol


class Photos(Protocol):
    """Where pictures lie."""

    def keep(self, body: bytes) -> tuple[str, bool]:
        """Keep a picture durably; return its SHA-256, and whether it is new. Raises `StoreError`."""
        ...

    def read(self, digest: str) -> bytes | None:
        """Return a picture; None: there is none of that SHA-256, or it is not what it was. Raises `StoreError`."""
        ...

    def drop(self, digest: str) -> None:
        """Take a picture away that nothing names. Raises `StoreError`."""
        ...
