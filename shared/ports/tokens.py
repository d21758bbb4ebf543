"""What the door for other software needs of the site book."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from shared.models.base import Json, Ms
from shared.models.decisions import LogEntry
from shared.models.tokens import KeptAnswer, Token


class TokenBook(Protocol):
    """Tokens, and the answers to requests with a key."""

    def tokens(self) -> Sequence[Token]:
        """Return every token, ended ones too, by number."""
        ...

    def token(self, digest: str) -> Token | None:
        """Return the token of that digest, also one that is not in force any more."""
        ...

    def add_token(self, token: Token, log: LogEntry) -> int:
        """Keep a token; return its number. Raises `StoreError` when that digest is there."""
        ...

    def end_token(self, no: int, at_ms: Ms, log: LogEntry) -> bool:
        """End a token. False, and nothing changes, when there is none that goes on."""
        ...

    def begin(self, token: int, key: str, asked: str, at_ms: Ms) -> KeptAnswer | None:
        """Take a key for a request that begins now; return what was kept under it before, if it is taken already."""
        ...

    def drop(self, token: int, key: str) -> None:
        """Give a key back: what it was taken for was not begun."""
        ...

    def settle(self, token: int, key: str, status: int, body: Json) -> None:
        """Keep the answer to a request that has begun."""
        ...
