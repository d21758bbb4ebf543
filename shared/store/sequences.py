"""The numbers of loggers' messages as the site book keeps them: a row a logger."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any, Final

from sqlalchemy import Connection, RowMapping, bindparam, select

from shared.models.base import LoggerId
from shared.models.readings import Heard
from shared.sequence import Followed, Start, followed
from shared.store import tables as t
from shared.store.database import inserting, named_at_once
from shared.store.tables_starts import starts_before

# Built once: making a statement costs more than running it.
_OF: Final = select(t.sequence).where(t.sequence.c.logger.in_(bindparam("loggers", expanding=True)))
OWN: Final = "*"
"""The name of what the service sends to itself begins so; no logger's does. Its numbers are hours, and so have gaps."""
_MISSING: Final = (
    select(t.sequence)
    .where(t.sequence.c.missing != "[]", ~t.sequence.c.logger.startswith(OWN))
    .order_by(t.sequence.c.logger)
)
_STARTS: Final = select(starts_before).where(starts_before.c.logger.in_(bindparam("loggers", expanding=True)))
_NEW_STARTS: Final = inserting(starts_before)
_WRITE_STARTS: Final = _NEW_STARTS.on_conflict_do_update(
    index_elements=["logger"], set_={"starts": _NEW_STARTS.excluded["starts"]}
)
_NEW: Final = inserting(t.sequence)
_WRITE: Final = _NEW.on_conflict_do_update(
    index_elements=["logger"], set_={name: _NEW.excluded[name] for name in ("boot", "newest", "missing", "first")}
)


def note(connection: Connection, heard: Sequence[Heard]) -> None:
    """Follow the numbers of these messages, in the order in which they came."""
    numbered = [said for said in heard if said.sequence is not None and not said.logger.startswith(OWN)]
    known = of(connection, {said.logger for said in numbered})
    before = {logger: kept.before for logger, kept in known.items()}
    for said in numbered:
        kept = followed(known.get(said.logger), said)
        if kept is not None:
            known[said.logger] = kept
    if known:
        connection.execute(_WRITE, [_row(kept) for kept in known.values()])
    changed = [kept for kept in known.values() if kept.before != before.get(kept.logger, ())]
    if changed:
        connection.execute(_WRITE_STARTS, [_starts_row(kept) for kept in changed])


def of(connection: Connection, loggers: Iterable[LoggerId]) -> dict[LoggerId, Followed]:
    """Return what the numbers of these loggers have come to."""
    found = {}
    for some in named_at_once(loggers):
        starts = {row.logger: row.starts for row in connection.execute(_STARTS, {"loggers": some})}
        for row in connection.execute(_OF, {"loggers": some}).mappings():
            kept = _from(row)
            found[kept.logger] = replace(kept, before=_starts_from(starts.get(kept.logger, "[]")))
    return found


def missing(connection: Connection) -> Sequence[Followed]:
    """Return the loggers of whose messages some never came."""
    return [_from(row) for row in connection.execute(_MISSING).mappings()]


def _row(kept: Followed) -> dict[str, Any]:
    spans = json.dumps([list(span) for span in kept.missing])
    return {"logger": kept.logger, "boot": kept.boot, "newest": kept.newest, "missing": spans, "first": kept.first}


def _starts_row(kept: Followed) -> dict[str, Any]:
    starts = [[s.boot, s.first, s.newest, [list(span) for span in s.missing]] for s in kept.before]
    return {"logger": kept.logger, "starts": json.dumps(starts)}


def _starts_from(text: str) -> tuple[Start, ...]:
    return tuple(
        Start(boot, first, newest, tuple((a, b) for a, b in spans)) for boot, first, newest, spans in json.loads(text)
    )


def _from(row: RowMapping) -> Followed:
    spans = tuple((first, last) for first, last in json.loads(row["missing"]))
    return Followed(LoggerId(row["logger"]), row["boot"], row["newest"], spans, row["first"])
