"""The site book as a reader of the site sees it: stored rows only."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, select

from shared.models.acts import Act, act_from
from shared.models.base import BayId
from shared.models.decisions import Doubt, LogEntry, RequirementEdit
from shared.models.messages import Delivery, Message
from shared.models.readings import Conflict, Refused
from shared.models.setup import SiteFile
from shared.ports import BoardRow
from shared.store import cases, chain, site
from shared.store import tables as t
from shared.store.accepted import Settings
from shared.store.codec import parsed
from shared.store.database import Database
from shared.store.rows import conflict_from, delivery_from, message_from, refused_from


class SqlBoardBook:
    """The `BoardBook` port."""

    def __init__(self, database: Database, settings: Settings) -> None:
        self._database = database
        self._settings = settings

    def board(self) -> Sequence[BoardRow]:
        with self._database.reading() as connection:
            return [self._row(connection, head) for head in cases.open_heads(connection)]

    def _row(self, connection: Connection, head: cases.Head) -> BoardRow:
        pour, accepted = head.pour, self._settings.numbered(connection, head.setting)
        return BoardRow(
            pour=pour,
            floor=self._settings.bay(connection, accepted, pour.bay).floor,
            gates=cases.gates_of(connection, pour.id),
            holds=cases.holds_of(connection, pour.id),
            state=head.state,
            stripping=cases.near(connection, accepted, pour.bay).stripping,
        )

    def log_after(self, seq: int) -> Sequence[tuple[int, LogEntry]]:
        with self._database.reading() as connection:
            return [(number, entry) for number, entry, _, _ in chain.after(connection, seq)]

    def acts(self) -> Sequence[Act]:
        with self._database.reading() as connection:
            return [act_from(parsed(body)) for body in connection.scalars(select(t.act.c.body).order_by(t.act.c.no))]

    def messages(self) -> Sequence[Message]:
        with self._database.reading() as connection:
            rows = connection.execute(select(t.message).order_by(t.message.c.no)).mappings()
            return [message_from(row) for row in rows]

    def deliveries(self) -> Sequence[Delivery]:
        with self._database.reading() as connection:
            rows = connection.execute(select(t.delivery).order_by(t.delivery.c.no)).mappings()
            return [delivery_from(row) for row in rows]

    def refused(self) -> Sequence[Refused]:
        with self._database.reading() as connection:
            rows = connection.execute(select(t.refused).order_by(t.refused.c.no)).mappings()
            return [refused_from(row) for row in rows]

    def conflicts(self) -> Sequence[Conflict]:
        with self._database.reading() as connection:
            rows = connection.execute(select(t.conflict).order_by(t.conflict.c.no)).mappings()
            return [conflict_from(row) for row in rows]

    def site(self) -> SiteFile:
        with self._database.reading() as connection:
            return self._settings.in_force(connection).site

    def doubts(self) -> Sequence[Doubt]:
        with self._database.reading() as connection:
            return site.doubts_of(connection)

    def edits(self, bay: BayId) -> Sequence[RequirementEdit]:
        with self._database.reading() as connection:
            return site.edits_of(connection, bay)
