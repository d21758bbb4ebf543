"""The site book as a reader of the site sees it: stored rows only."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any, Final

from sqlalchemy import Connection, Row, RowMapping, bindparam, func, or_, select

from shared.models.acts import Act, act_from
from shared.models.base import STRIP, BayId, Json, MixId, Ms, PourId, SensorId
from shared.models.calibration import Calibration
from shared.models.decisions import Doubt, GateState, LogEntry, Placement, RequirementEdit
from shared.models.messages import Delivery, Message
from shared.models.readings import Arrival, Conflict, Heard, Reason, Refusal, Refused, RefusedCount
from shared.models.setup import SiteFile
from shared.ports import BoardRow, MixPour, MixRow, PourCase
from shared.sequence import Followed
from shared.store import cases, chain, sequences, site
from shared.store import tables as t
from shared.store.accepted import HIGHEST, Accepted, Settings
from shared.store.book_cure import SqlCureBook
from shared.store.book_refused import REFUSALS
from shared.store.book_told import SqlToldBook
from shared.store.codec import parsed
from shared.store.database import Database, named_at_once
from shared.store.rows import (
    arrival_from,
    conflict_from,
    delivery_from,
    gate_from,
    heard_from,
    hold_from,
    message_from,
    placement_from,
    pour_from,
    refusal_from,
    refused_from,
)

_JUDGED_BY: Final = select(t.pour.c.mix, t.pour.c.calibration_version).where(
    t.pour.c.closed_ms.is_(None), t.pour.c.calibration_version.is_not(None)
)
_POURS: Final = (
    select(t.pour, t.pour_state.c.memory)
    .join(t.pour_state, t.pour_state.c.pour == t.pour.c.id)
    .where(
        t.pour.c.mix == bindparam("of_mix"),
        or_(
            t.pour.c.calibration_version == bindparam("of_version"),
            t.pour.c.calibration_version.is_(None) & t.pour.c.closed_ms.is_(None),
        ),
    )
    .order_by(t.pour.c.start_ms, t.pour.c.id)
)
_REFUSED_SINCE: Final = (
    select(t.refused.c.topic, t.refused.c.sensor, t.refused.c.reason, func.count().label("messages"))
    .where(t.refused.c.received_ms >= bindparam("since"))
    .group_by(t.refused.c.topic, t.refused.c.sensor, t.refused.c.reason)
    .order_by(func.count().desc(), t.refused.c.topic, t.refused.c.sensor, t.refused.c.reason)
)
_NEWEST_OF_EACH: Final = (
    select(func.max(t.refused.c.no))
    .where(t.refused.c.reason == Reason.UNKNOWN_SENSOR.value)
    .group_by(t.refused.c.topic, t.refused.c.sensor)
)
_STRANGERS: Final = (
    select(t.refused)
    .where(t.refused.c.no.in_(_NEWEST_OF_EACH))
    .order_by(t.refused.c.no.desc())
    .limit(bindparam("most"))
)
_ACTS_OF: Final = (
    select(t.act.c.body)
    .where(t.act.c.kind == bindparam("of_kind"), t.act.c.at_ms >= bindparam("since"))
    .order_by(t.act.c.no)
)
_ACTS_BETWEEN: Final = (
    select(t.act.c.body)
    .where(t.act.c.at_ms >= bindparam("begin"))
    # What happened earlier than it was entered says so in a field of that name.
    .where(or_(t.act.c.at_ms < bindparam("end"), t.act.c.body.contains('"happened":')))
    .order_by(t.act.c.no)
)
_LYING: Final = select(t.placement).where(t.placement.c.to_ms.is_(None)).order_by(t.placement.c.no)
_ARRIVALS: Final = (
    select(t.arrival).where(t.arrival.c.sensor.in_(bindparam("sensors", expanding=True))).order_by(t.arrival.c.sensor)
)
_NEWEST_DELIVERIES: Final = (
    select(t.delivery)
    .where(
        t.delivery.c.no.in_(select(func.max(t.delivery.c.no)).group_by(t.delivery.c.recipient, t.delivery.c.channel))
    )
    .order_by(t.delivery.c.no)
)


def _is_stripped(gates: Sequence[Row[Any]]) -> bool:
    return any(gate.operation == STRIP and gate.state == GateState.UNDER_WAY.value for gate in gates)


def _arrivals(connection: Connection, sensors: Sequence[SensorId]) -> Iterator[RowMapping]:
    yield from connection.execute(_ARRIVALS, {"sensors": sensors}).mappings()


class SqlBoardBook(SqlToldBook):
    """The `BoardBook` port."""

    def __init__(self, database: Database, settings: Settings) -> None:
        super().__init__(database)
        self._settings = settings
        self._rows: Mapping[str, tuple[tuple[Any, ...], BoardRow]] = {}
        """Of the board as it was last read, by pour: most of it is the same when it is read again, and to make it
        costs several times what reading does."""

    def board(self) -> Sequence[BoardRow]:
        with self._database.reading() as connection:
            found = cases.open_rows(connection)
            stripped = [head.bay for head in found.heads if _is_stripped(found.gates.get(head.id, ()))]
            kept = {head.id: self._kept(connection, found, head, stripped) for head in found.heads}
        self._rows = kept
        return [row for _, row in kept.values()]

    def _kept(
        self, connection: Connection, found: cases.OpenRows, head: Row[Any], stripped: Sequence[BayId]
    ) -> tuple[tuple[Any, ...], BoardRow]:
        """Return the rows of a pour with what they say: of rows that are the same as before, what was said before."""
        accepted = self._settings.numbered(connection, head.setting)
        beside = accepted.beside.get(head.bay, frozenset())
        gates, holds = found.gates.get(head.id, ()), found.holds.get(head.id, ())
        rows = (head, gates, holds, tuple(bay for bay in stripped if bay in beside))
        before = self._rows.get(head.id)
        if before is not None and before[0] == rows:
            return before
        of = cases.head_from(cases.named(head))
        floor = self._settings.bay(connection, accepted, of.pour.bay).floor
        said = map(gate_from, map(cases.named, gates))
        open_holds = tuple(map(hold_from, map(cases.named, holds)))
        return rows, BoardRow(of.pour, floor, {g.operation: g for g in said}, open_holds, of.state, rows[-1])

    def case(self, pour: PourId) -> PourCase:
        return SqlCureBook(self._database, self._settings).case(pour)

    def placements(self) -> Sequence[Placement]:
        with self._database.reading() as connection:
            rows = connection.execute(select(t.placement).order_by(t.placement.c.no)).mappings()
            return [placement_from(row) for row in rows]

    def lying(self) -> Sequence[Placement]:
        with self._database.reading() as connection:
            return [placement_from(row) for row in connection.execute(_LYING).mappings()]

    def missing(self) -> Sequence[Followed]:
        with self._database.reading() as connection:
            return sequences.missing(connection)

    def log_after(self, seq: int, limit: int | None = None) -> Sequence[tuple[int, LogEntry]]:
        with self._database.reading() as connection:
            return [(number, entry) for number, entry, _, _ in chain.after(connection, seq, limit)]

    def acts(self) -> Sequence[Act]:
        with self._database.reading() as connection:
            return [act_from(parsed(body)) for body in connection.scalars(select(t.act.c.body).order_by(t.act.c.no))]

    def acts_of(self, kind: str, since_ms: Ms = 0) -> Sequence[Act]:
        with self._database.reading() as connection:
            found = connection.scalars(_ACTS_OF, {"of_kind": kind, "since": since_ms})
            return [act_from(parsed(body)) for body in found]

    def acts_between(self, from_ms: Ms, to_ms: Ms) -> Sequence[Act]:
        with self._database.reading() as connection:
            found = connection.scalars(_ACTS_BETWEEN, {"begin": from_ms, "end": to_ms})
            return [act_from(parsed(body)) for body in found]

    def messages(self) -> Sequence[Message]:
        with self._database.reading() as connection:
            rows = connection.execute(select(t.message).order_by(t.message.c.no)).mappings()
            return [message_from(row) for row in rows]

    def deliveries(self) -> Sequence[Delivery]:
        with self._database.reading() as connection:
            rows = connection.execute(select(t.delivery).order_by(t.delivery.c.no)).mappings()
            return [delivery_from(row) for row in rows]

    def newest_deliveries(self) -> Sequence[Delivery]:
        with self._database.reading() as connection:
            return [delivery_from(row) for row in connection.execute(_NEWEST_DELIVERIES).mappings()]

    def refused(self) -> Sequence[Refused]:
        with self._database.reading() as connection:
            rows = connection.execute(select(t.refused).order_by(t.refused.c.no)).mappings()
            return [refused_from(row) for row in rows]

    def refused_since(self, since_ms: Ms) -> Sequence[RefusedCount]:
        with self._database.reading() as connection:
            rows = connection.execute(_REFUSED_SINCE, {"since": since_ms}).all()
            return [RefusedCount(topic, sensor, Reason(reason), count) for topic, sensor, reason, count in rows]

    def strangers(self, limit: int) -> Sequence[Refused]:
        with self._database.reading() as connection:
            rows = connection.execute(_STRANGERS, {"most": limit}).mappings()
            return [refused_from(row) for row in rows]

    def arrivals(self) -> Sequence[Arrival]:
        with self._database.reading() as connection:
            return [
                arrival_from(r) for r in connection.execute(select(t.arrival).order_by(t.arrival.c.sensor)).mappings()
            ]

    def arrivals_of(self, sensors: Collection[SensorId]) -> Sequence[Arrival]:
        with self._database.reading() as connection:
            rows = (r for some in named_at_once(sensors) for r in _arrivals(connection, some))
            return [arrival_from(row) for row in rows]

    def heard(self) -> Sequence[Heard]:
        with self._database.reading() as connection:
            rows = connection.execute(select(t.heard).order_by(t.heard.c.logger)).mappings()
            return [heard_from(row) for row in rows]

    def refusals(self) -> Sequence[Refusal]:
        with self._database.reading() as connection:
            return [refusal_from(row) for row in connection.execute(REFUSALS).mappings()]

    def conflicts(self) -> Sequence[Conflict]:
        with self._database.reading() as connection:
            rows = connection.execute(select(t.conflict).order_by(t.conflict.c.no)).mappings()
            return [conflict_from(row) for row in rows]

    def site(self) -> SiteFile:
        with self._database.reading() as connection:
            return self._settings.in_force(connection).site

    def mixes(self) -> Sequence[MixRow]:
        with self._database.reading() as connection:
            accepted = self._settings.in_force(connection)
            judging = {(mix, version) for mix, version in connection.execute(_JUDGED_BY)}
            found = sorted({*accepted.calibrations.items(), *judging})
            rows = [self._mix_row(connection, accepted, MixId(mix), version) for mix, version in found]
            return [row for row in rows if row is not None]

    def _mix_row(self, connection: Connection, accepted: Accepted, mix: MixId, version: int) -> MixRow | None:
        calibration = self._settings.calibration(connection, mix, version)
        if calibration is None:
            return None
        in_force = accepted.calibrations.get(mix) == version
        rows = connection.execute(_POURS, {"of_mix": mix, "of_version": version}).mappings().all()
        # One whose end is not entered yet will be judged by what is in force then.
        pours = [row for row in rows if in_force or row["calibration_version"] is not None]
        return MixRow(
            mix=self._settings.mix(connection, accepted, mix),
            calibration=calibration,
            in_force=in_force,
            pours=tuple(MixPour(pour_from(row), parsed(row["memory"])) for row in pours),
            tests=site.mix_tests_of(connection, mix, version),
        )

    def calibrations(self) -> Sequence[Calibration]:
        with self._database.reading() as connection:
            accepted = self._settings.in_force(connection)
            of = sorted(accepted.calibrations.items())
            found = [self._settings.calibration(connection, MixId(mix), version) for mix, version in of]
            return [one for one in found if one is not None]

    def newest_version(self, mix: str) -> int:
        with self._database.reading() as connection:
            return connection.scalar(HIGHEST, {"of_mix": mix}) or 0

    def doubts(self) -> Sequence[Doubt]:
        with self._database.reading() as connection:
            return site.doubts_of(connection)

    def edits(self, bay: BayId) -> Sequence[RequirementEdit]:
        with self._database.reading() as connection:
            return site.edits_of(connection, bay)

    def evidence(self, digest: str) -> Json | None:
        with self._database.reading() as connection:
            body = connection.scalar(select(t.snapshot.c.body).where(t.snapshot.c.digest == digest))
            return None if body is None else parsed(body)
