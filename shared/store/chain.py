"""The site's log: each line carries the hash of the one before it, so that nothing can be changed unseen.

hash = SHA-256(prev + canonical JSON of {at_ms, body, what, who}); the first line's prev is 64 zeros.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from hashlib import sha256
from typing import Any, Final

from sqlalchemy import Connection, bindparam, exists, select

from shared.errors import StoreError
from shared.models.decisions import LogEntry
from shared.store import tables as t
from shared.store.codec import canonical, parsed

START: Final = "0" * 64
_PAGE: Final = 1_000
_HEAD: Final = select(t.log.c.seq, t.log.c.hash).order_by(t.log.c.seq.desc()).limit(1)
_ANCHORED: Final = select(t.log.c.hash).where(t.log.c.seq == bindparam("number"))
_LINE_GONE: Final = (
    select(t.message.c.no)
    .where(~exists().where(t.log.c.seq == t.message.c.log_seq, t.log.c.hash == t.message.c.log_hash))
    .order_by(t.message.c.no)
    .limit(1)
)
_INSERT: Final = t.log.insert()
_AFTER: Final = select(t.log).where(t.log.c.seq > bindparam("above")).order_by(t.log.c.seq).limit(bindparam("most"))


def _hash(prev: str, entry: LogEntry) -> str:
    body = {"at_ms": entry.at_ms, "who": entry.who, "what": entry.what, "body": dict(entry.body)}
    return sha256((prev + canonical(body)).encode("utf-8", "surrogatepass")).hexdigest()


def head(connection: Connection) -> tuple[int, str]:
    """Return (number, hash) of the newest line; (0, "") for an empty log."""
    row = connection.execute(_HEAD).first()
    return (0, "") if row is None else (row[0], row[1])


def append(connection: Connection, entries: Iterable[LogEntry]) -> None:
    """Append lines in the transaction of what they tell about."""
    rows: list[dict[str, Any]] = []
    for entry in entries:
        prev = rows[-1]["hash"] if rows else head(connection)[1] or START
        body = canonical(dict(entry.body))
        row = {"at_ms": entry.at_ms, "who": entry.who, "what": entry.what, "body": body}
        rows.append({**row, "prev": prev, "hash": _hash(prev, entry)})
    for row in rows:
        connection.execute(_INSERT, row)


def after(connection: Connection, seq: int, limit: int | None = None) -> list[tuple[int, LogEntry, str, str]]:
    """Return lines above `seq` as (number, entry, prev, hash), in order."""
    # SQL has no way to say "all" as a number; no log is longer than this.
    found = connection.execute(_AFTER, {"above": seq, "most": 2**62 if limit is None else limit}).mappings()
    return [
        (row["seq"], LogEntry(row["at_ms"], row["who"], row["what"], parsed(row["body"])), row["prev"], row["hash"])
        for row in found
    ]


def verify(connection: Connection, anchors: Sequence[tuple[int, str]] = ()) -> tuple[int, str]:
    """Return (lines, newest hash).

    Args:
        connection: a transaction on the book.
        anchors: (number, hash) of lines that were kept elsewhere; the beginning of a hash is enough.

    Raises:
        StoreError: a line is not as it was written, or an anchored one, or that of a message, is not there: the log
            was cut short, or an older one was put back.
    """
    seq, lines, prev = 0, 0, START
    while page := after(connection, seq, _PAGE):
        for seq, entry, said_prev, said in page:
            if said_prev != prev or said != _hash(prev, entry):
                raise StoreError(
                    f"log line {seq} is not as it was written: the site's log was changed, and no release of this "
                    "book can be relied on; restore a backup, or have the engineer of record decide"
                )
            lines, prev = lines + 1, said
    gone = connection.scalar(_LINE_GONE)
    if gone is not None:
        raise StoreError(
            f"the log line of message no. {gone} is gone: the site's log was cut short or replaced, and no release of "
            "this book can be relied on; restore a backup, or have the engineer of record decide"
        )
    for number, kept in anchors:
        there = connection.scalar(_ANCHORED, {"number": number})
        if not kept or there is None or not there.startswith(kept):
            raise StoreError(
                f"log line {number} is not the one that was kept outside the book: an older or another log was put in "
                "its place, and no release of this book can be relied on; have the engineer of record decide"
            )
    return lines, prev
