"""The site book as the door for other software sees it: tokens, and answers kept under keys."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Final

from sqlalchemy import RowMapping, delete, insert, select, update

from shared.models.base import DAY_MS, Json, Ms
from shared.models.decisions import LogEntry
from shared.models.tokens import KeptAnswer, Scope, Token
from shared.store import chain
from shared.store import tables_tokens as t
from shared.store.codec import canonical
from shared.store.database import Database, inserting

KEPT_MS: Final = 7 * DAY_MS
"""A key is known for so long: longer than any software goes on asking."""
_T, _K = t.token.c, t.kept_answer.c


def _token(row: RowMapping) -> Token:
    scopes = frozenset(map(Scope, row["scopes"].split()))
    about = (row["no"], row["digest"], row["name"], row["person"], scopes, row["who"])
    return Token(*about, row["since_ms"], row["until_ms"], row["ended_ms"])


_TAKE_KEY: Final = inserting(t.kept_answer).on_conflict_do_nothing().returning(t.kept_answer.c.key)


class SqlTokenBook:
    """The `TokenBook` port."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def tokens(self) -> Sequence[Token]:
        with self._database.reading() as connection:
            return [_token(row) for row in connection.execute(select(t.token).order_by(_T.no)).mappings()]

    def token(self, digest: str) -> Token | None:
        with self._database.reading() as connection:
            row = connection.execute(select(t.token).where(_T.digest == digest)).mappings().first()
        return None if row is None else _token(row)

    def add_token(self, token: Token, log: LogEntry) -> int:
        row = {
            "digest": token.digest,
            "name": token.name,
            "person": token.person,
            "scopes": " ".join(sorted(token.scopes)),
            "who": token.by,
            "since_ms": token.since_ms,
            "until_ms": token.until_ms,
        }
        with self._database.writing() as connection:
            number = connection.scalar(insert(t.token).values(row).returning(_T.no))
            chain.append(connection, [log])
        return int(number or 0)

    def end_token(self, no: int, at_ms: Ms, log: LogEntry) -> bool:
        going = (_T.no == no) & _T.ended_ms.is_(None)
        with self._database.writing() as connection:
            if connection.execute(update(t.token).where(going).values(ended_ms=at_ms)).rowcount == 0:
                return False
            chain.append(connection, [log])
            return True

    def begin(self, token: int, key: str, asked: str, at_ms: Ms) -> KeptAnswer | None:
        row = {"token": token, "key": key, "asked": asked, "at_ms": at_ms}
        with self._database.writing() as connection:
            connection.execute(delete(t.kept_answer).where(_K.at_ms < at_ms - KEPT_MS))
            if connection.execute(_TAKE_KEY, row).first() is not None:
                return None
            under = (_K.token == token) & (_K.key == key)
            kept = connection.execute(select(t.kept_answer).where(under)).mappings().one()
        body = None if kept["body"] is None else json.loads(kept["body"])
        return KeptAnswer(kept["asked"], kept["at_ms"], kept["status"], body)

    def drop(self, token: int, key: str) -> None:
        under = (_K.token == token) & (_K.key == key) & _K.status.is_(None)
        with self._database.writing() as connection:
            connection.execute(delete(t.kept_answer).where(under))

    def settle(self, token: int, key: str, status: int, body: Json) -> None:
        under = (_K.token == token) & (_K.key == key)
        with self._database.writing() as connection:
            connection.execute(update(t.kept_answer).where(under).values(status=status, body=canonical(body)))
