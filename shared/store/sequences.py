"""The numbers of loggers' messages as the site book keeps them: a row a logger."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any, Final

from sqlalchemy import Connection, RowMapping, bindparam, select

from shared.models.base import LoggerId
from shared.models.readings import Heard
from shared.sequence import Followed, followed
from shared.store import tables as t
from shared.store.database import inserting, named_at_once

# Built once: making a statement costs more than running it.
_OF: Final = select(t.sequence).where(t.sequence.c.logger.in_(bindparam("loggers", expanding=True)))
_MISSING: Final = select(t.sequence).where(t.sequence.c.missing != "[]").order_by(t.sequence.c.logger)
_NEW: Final = inserting(t.sequence)
_WRITE: Final = _NEW.on_conflict_do_update(
    index_elements=["logger"], set_={name: _NEW.excluded[name] for name in ("boot", "newest", "missing", "first")}
)


def note(connection: Connection, heard: Sequence[Heard]) -> None:
    """Follow the numbers of these messages, in the order in which they came."""
    numbered = [said for said in heard if said.sequence is not None]
    known = of(connection, {said.logger for said in numbered})
    for said in numbered:
        kept = followed(known.get(said.logger), said)
        if kept is not None:
            known[said.logger] = kept
    if known:
        connection.execute(_WRITE, [_row(kept) for kept in known.values()])


def of(connection: Connection, loggers: Iterable[LoggerId]) -> dict[LoggerId, Followed]:
    """Return what the numbers of these loggers have come to."""
    found = (
        _from(row) for some in named_at_once(loggers) for row in connection.execute(_OF, {"loggers": some}).mappings()
    )
    return {kept.logger: kept for kept in found}


def missing(connection: Connection) -> Sequence[Followed]:
    """Return the loggers of whose messages some never came."""
    return [_from(row) for row in connection.execute(_MISSING).mappings()]


def _row(kept: Followed) -> dict[str, Any]:
    spans = json.dumps([list(span) for span in kept.missing])
    return {"logger": kept.logger, "boot": kept.boot, "newest": kept.newest, "missing": spans, "first": kept.first}


def _from(row: RowMapping) -> Followed:
    spans = tuple((first, last) for first, last in json.loads(row["missing"]))
    return Followed(LoggerId(row["logger"]), row["boot"], row["newest"], spans, row["first"])
