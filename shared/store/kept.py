"""Every accepted act is kept as it was handed in: the audit trail, and what a replay plays again."""

from __future__ import annotations

from sqlalchemy import Connection

from shared.models.acts import Act, act_to
from shared.store import tables as t
from shared.store.codec import canonical


def keep_act(connection: Connection, act: Act) -> None:
    """Append an accepted act."""
    connection.execute(
        t.act.insert().values(
            at_ms=act.at_ms,
            who=act.who,
            kind=act.kind,
            pour=getattr(act, "pour", None),
            body=canonical(act_to(act)),
        )
    )
