"""Drafts in memory."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from shared.errors import StoreError


@dataclass
class MemoryDrafts:
    """The `Drafts` port; `full`: the disk has no room."""

    held: dict[str, Mapping[str, str]] = field(default_factory=dict)
    full: bool = False

    def keep(self, name: str, said: Mapping[str, str]) -> None:
        if self.full:
            raise StoreError("the disk is too full for drafts")
        self.held[name] = dict(said)

    def read(self, name: str) -> Mapping[str, str] | None:
        return self.held.get(name)

    def drop(self, name: str) -> None:
        self.held.pop(name, None)
