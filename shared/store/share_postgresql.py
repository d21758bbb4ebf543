"""Shares a site's pours among the processes that judge them, by locks of the server that end with their holders.

Each process holds one lock while its connection lives, so who is there is known at once and to all, also after
`kill -9`. A pour belongs to the one that comes first for it by a digest of both (rendezvous hashing: Thaler and
Ravishankar, IEEE/ACM Transactions on Networking 6(1), 1998): when one goes only its own pours move.

Held for as long as the process lives, and therefore no `FOR UPDATE SKIP LOCKED`: a row stays locked only as long as its
transaction, and one that is open for days keeps the server from tidying up.
"""

from __future__ import annotations

import secrets
from hashlib import sha256
from typing import Any, Final

import psycopg

from shared.elapsed import JUMP_MS
from shared.errors import StoreError
from shared.models.base import Ms, PourId
from shared.store.database import our_errors
from shared.store.database_postgresql import BOOK, WAIT_S

_WORKERS: Final = 0x51AB_B0CC
"""Names the locks of those who judge; any number does that is always the same."""
_THERE: Final = """
    SELECT objid FROM pg_locks WHERE locktype = 'advisory' AND granted AND classid = %s::oid AND objsubid = 2
    AND database = (SELECT oid FROM pg_database WHERE datname = current_database())
"""
_HOUR: Final = "SELECT (extract(epoch FROM clock_timestamp()) * 1000)::int8"


class PostgresqlShare:
    """The `Share` port on the server behind a connection string."""

    def __init__(self, dsn: str) -> None:
        self._dsn = dsn
        self._link: psycopg.Connection[Any] | None = None
        self._me = 0
        self._there: frozenset[int] = frozenset()
        self._mine: dict[PourId, bool] = {}

    def look(self, now: Ms) -> None:
        """Raises `StoreError` also when this machine's clock and the server's are apart: one of them is wrong, and by
        which a pour is judged must not hang on who judges it.
        """
        before, self._there = self._there, frozenset()
        with our_errors(BOOK, psycopg.Error):
            try:
                link = self._joined()
                there = frozenset(int(row[0]) for row in link.execute(_THERE, (_WORKERS,)))
                (hour,) = link.execute(_HOUR).fetchone() or (0,)
            except BaseException:
                self.close()
                raise
        if self._me not in there:
            self.close()
            raise StoreError(f"{BOOK}: the lock by which the others know of this process is gone; it is taken anew")
        if not abs(hour - now) <= JUMP_MS:
            raise StoreError(
                f"the clock of this machine is {abs(hour - now) / 1000:.0f} s off that of the server of the site book: "
                "nothing is judged here until both are synchronised"
            )
        if there != before:
            self._mine.clear()
        self._there = there

    def _joined(self) -> psycopg.Connection[Any]:
        if self._link is None:
            self._link = psycopg.connect(
                self._dsn, connect_timeout=round(WAIT_S), autocommit=True, application_name="slabhour share"
            )
            self._me = secrets.randbelow(2**31)
            self._link.execute("SELECT pg_advisory_lock(%s::int4, %s::int4)", (_WORKERS, self._me))
        return self._link

    def mine(self, pour: PourId) -> bool:
        if not self._there:
            return False
        if pour not in self._mine:
            self._mine[pour] = max(self._there, key=lambda one: _rank(one, pour)) == self._me
        return self._mine[pour]

    def close(self) -> None:
        self._there = frozenset()
        self._mine.clear()
        if self._link is not None:
            self._link.close()
            self._link = None


def _rank(one: int, pour: PourId) -> bytes:
    return sha256(f"{one}:{pour}".encode()).digest()
