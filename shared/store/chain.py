"""The site's log: each line carries the hash of the one before it, so that nothing can be changed unseen.

hash = SHA-256(prev + canonical JSON of {at_ms, body, what, who}); the first line's prev is 64 zeros.
"""

from __future__ import annotations

from collections.abc import Iterable
from hashlib import sha256
from typing import Final

from sqlalchemy import Connection, select

from shared.errors import StoreError
from shared.models.decisions import LogEntry
from shared.store import tables as t
from shared.store.codec import canonical, parsed

START: Final = "0" * 64
_PAGE: Final = 1_000


def _hash(prev: str, entry: LogEntry) -> str:
    body = {"at_ms": entry.at_ms, "who": entry.who, "what": entry.what, "body": dict(entry.body)}
    return sha256((prev + canonical(body)).encode("utf-8", "surrogatepass")).hexdigest()


def append(connection: Connection, entries: Iterable[LogEntry]) -> None:
    """Append lines in the transaction of what they tell about."""
    prev = connection.scalar(select(t.log.c.hash).order_by(t.log.c.seq.desc()).limit(1)) or START
    for entry in entries:
        mark = _hash(prev, entry)
        connection.execute(
            t.log.insert().values(
                at_ms=entry.at_ms,
                who=entry.who,
                what=entry.what,
                body=canonical(dict(entry.body)),
                prev=prev,
                hash=mark,
            )
        )
        prev = mark


def after(connection: Connection, seq: int, limit: int | None = None) -> list[tuple[int, LogEntry, str, str]]:
    """Return lines above `seq` as (number, entry, prev, hash), in order."""
    found = connection.execute(select(t.log).where(t.log.c.seq > seq).order_by(t.log.c.seq).limit(limit)).mappings()
    return [
        (row["seq"], LogEntry(row["at_ms"], row["who"], row["what"], parsed(row["body"])), row["prev"], row["hash"])
        for row in found
    ]


def verify(connection: Connection) -> tuple[int, str]:
    """Return (lines, newest hash). Raises `StoreError` that names the first line which is not as it was written."""
    seq, lines, prev = 0, 0, START
    while page := after(connection, seq, _PAGE):
        for seq, entry, said_prev, said in page:
            if said_prev != prev or said != _hash(prev, entry):
                raise StoreError(
                    f"log line {seq} is not as it was written: the site's log was changed, and no release of this "
                    "book can be relied on; restore a backup, or have the engineer of record decide"
                )
            lines, prev = lines + 1, said
    return lines, prev
