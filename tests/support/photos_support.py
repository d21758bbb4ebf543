"""Pictures of tickets in memory."""

from __future__ import annotations

from hashlib import sha256


class MemoryPhotos:
    """Pictures in memory."""

    def __init__(self) -> None:
        self.kept: dict[str, bytes] = {}

    def keep(self, body: bytes) -> tuple[str, bool]:
        digest = sha256(body).hexdigest()
        new = digest not in self.kept
        self.kept[digest] = body
        return digest, new

    def read(self, digest: str) -> bytes | None:
        return self.kept.get(digest)

    def drop(self, digest: str) -> None:
        del self.kept[digest]
