"""Writing a message: cure, alerts and the service all do it, each in the transaction of what it tells about."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from sqlalchemy import Connection, bindparam, select

from shared.models.base import PourId
from shared.models.decisions import LogEntry
from shared.models.messages import NewMessage
from shared.store import chain
from shared.store import tables as t
from shared.store.codec import canonical

# Built once: making a statement costs more than running it.
_SAME: Final = select(t.message.c.no).where(
    t.message.c.pour == bindparam("of_pour"),
    t.message.c.subject == bindparam("of_subject"),
    t.message.c.epoch == bindparam("of_epoch"),
    t.message.c.kind == bindparam("of_kind"),
)
_NEW: Final = t.message.insert().returning(t.message.c.no)
_ANCHORED: Final = (
    t.message.update()
    .where(t.message.c.no == bindparam("number"))
    .values(log_seq=bindparam("seq"), log_hash=bindparam("hash"))
)
_OPEN_POURS: Final = select(t.pour.c.id).where(t.pour.c.closed_ms.is_(None))


def write_message(connection: Connection, new: NewMessage) -> int | None:
    """Write a message with its line in the log; return its number, None when it is there already."""
    row = {"kind": new.kind.value, "pour": new.pour, "subject": new.subject, "epoch": new.epoch}
    # Not "on conflict do nothing": that would use up a number, and people ask where message 41 is.
    if connection.scalar(_SAME, {f"of_{name}": value for name, value in row.items()}) is not None:
        return None
    facts = canonical(dict(new.facts))
    rest = {"at_ms": new.at_ms, "valid_until_ms": new.valid_until_ms, "facts": facts, "routed": 0}
    no: int = connection.execute(_NEW, row | rest | {"log_seq": 0, "log_hash": ""}).scalar_one()
    chain.append(connection, [LogEntry(new.at_ms, "slabhour", "message", {"no": no, **row})])
    seq, line_hash = chain.head(connection)
    connection.execute(_ANCHORED, {"number": no, "seq": seq, "hash": line_hash})
    return no


def touch(connection: Connection, pours: Collection[PourId] | None = None) -> None:
    """Make pours due, and void rounds that are running at them; None: every open pour."""
    found = _OPEN_POURS if pours is None else sorted(pours)
    connection.execute(t.pour_state.update().where(t.pour_state.c.pour.in_(found)).values(next_due_ms=0))
    connection.execute(t.pour.update().where(t.pour.c.id.in_(found)).values(touched=t.pour.c.touched + 1))
