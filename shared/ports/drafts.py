"""What a person has typed and not finished: kept until it is thrown away or put to use."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol


class Drafts(Protocol):
    """Where drafts lie, each under a name of its own."""

    def keep(self, name: str, said: Mapping[str, str]) -> None:
        """Keep a draft in place of the one of that name. Raises `StoreError`."""
        ...

    def read(self, name: str) -> Mapping[str, str] | None:
        """Return a draft; None: there is none, or it is not what it was. Raises `StoreError`."""
        ...

    def drop(self, name: str) -> None:
        """Throw a draft away. Raises `StoreError`."""
        ...
