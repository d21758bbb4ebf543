"""The site book as cure sees it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import Final

from sqlalchemy import Connection, bindparam, select

from shared.errors import StoreError
from shared.models.acts import (
    Act,
    FileDocument,
    HandReading,
    LoggerAct,
    MoveSet,
    PutInForce,
    Require,
    ScreenAgain,
    SiteAct,
    StrengthTest,
    TakeOver,
)
from shared.models.base import LOAD, STRIP, WALK, BayId, Ms, Operation, PourId, SensorId
from shared.models.decisions import Gate, GateState, LogEntry, Placement, Pour, PourState
from shared.models.messages import NewMessage
from shared.models.readings import Conflict
from shared.ports import PourCase, Result, SinceStart
from shared.store import cases, chain, placed, site, starts
from shared.store import tables as t
from shared.store.accepted import Settings, put_in_force
from shared.store.codec import canonical
from shared.store.database import Database, inserting
from shared.store.kept import keep_act
from shared.store.rows import conflict_from, gate_to, hold_to, pour_from, pour_to, state_to
from shared.store.told import touch, write_message

# Built once: making a statement costs more than running it.
_DUE: Final = (
    select(t.pour.c.id)
    .join(t.pour_state, t.pour_state.c.pour == t.pour.c.id)
    .where(t.pour_state.c.next_due_ms <= bindparam("now"), t.pour.c.closed_ms.is_(None))
    .order_by(t.pour_state.c.next_due_ms, t.pour.c.id)
    .limit(bindparam("most"))
)
_CONFLICTS: Final = (
    select(t.conflict)
    .where(t.conflict.c.sensor.in_(bindparam("sensors", expanding=True)), t.conflict.c.taken_ms >= bindparam("since"))
    .order_by(t.conflict.c.no)
)
_WRITE_POUR: Final = (
    t.pour.update()
    .where(t.pour.c.id == bindparam("of_pour"))
    .values({c.name: bindparam(c.name) for c in t.pour.c if c.name != "touched"})
    .values(touched=t.pour.c.touched + bindparam("acted"))
)
_WRITE_STATE: Final = t.pour_state.update().where(t.pour_state.c.pour == bindparam("of_pour"))
_NEW_GATE: Final = inserting(t.gate)
_WRITE_GATE: Final = _NEW_GATE.on_conflict_do_update(
    index_elements=["pour", "operation"], set_={c.name: _NEW_GATE.excluded[c.name] for c in t.gate.c}
)
_OPEN: Final = select(t.pour.c.id).where(t.pour.c.closed_ms.is_(None)).order_by(t.pour.c.bay, t.pour.c.id)
_OPEN_IN: Final = select(t.pour).where(t.pour.c.bay == bindparam("of_bay"), t.pour.c.closed_ms.is_(None))
_DROP_HOLDS: Final = t.hold.delete().where(t.hold.c.pour == bindparam("of_pour"))
_NEW_HOLD: Final = t.hold.insert()
_NEW_SNAPSHOT: Final = inserting(t.snapshot).on_conflict_do_nothing()


class SqlCureBook:
    """The `CureBook` port."""

    def __init__(self, database: Database, settings: Settings) -> None:
        self._database = database
        self._settings = settings

    def due(self, now: Ms, limit: int) -> Sequence[PourId]:
        with self._database.reading() as connection:
            found = connection.scalars(_DUE, {"now": now, "most": limit})
            return [PourId(pour) for pour in found]

    def case(self, pour: PourId) -> PourCase:
        with self._database.reading() as connection:
            return self._case(connection, pour)

    def _case(self, connection: Connection, pour_id: PourId) -> PourCase:
        head = cases.head_of(connection, pour_id)
        pour = head.pour
        accepted = self._settings.numbered(connection, head.setting)
        placements, arrivals = cases.placements_of(connection, pour_id)
        gates, near = cases.gates_of(connection, pour_id), cases.near(connection, accepted, pour.bay)
        version = pour.calibration_version
        if version is None:
            version = accepted.calibrations.get(pour.mix)
        return PourCase(
            pour=pour,
            bay=self._settings.bay(connection, accepted, pour.bay),
            mix=self._settings.mix(connection, accepted, pour.mix),
            site=accepted.site,
            calibration=self._settings.calibration(connection, pour.mix, version),
            placements=placements,
            arrivals=arrivals,
            conflicts=_conflicts(connection, {p.sensor for p in placements}, pour.start_ms),
            gates=gates,
            holds=cases.holds_of(connection, pour_id),
            state=head.state,
            stripping=near.stripping,
            withdrawal_confirmed={
                operation: cases.withdrawal_confirmed(connection, gate)
                for operation, gate in gates.items()
                if gate.state is GateState.WITHDRAWN
            },
            input_revision=head.revision,
            touched=head.touched,
            beside=near.beside,
            documents=site.documents_of(connection, pour),
            tests=site.tests_of(connection, pour_id),
            mix_tests=site.mix_tests_of(connection, pour.mix, version),
            edits=site.edits_of(connection, pour.bay),
            clock=site.clock_of(connection),
            doubts=site.doubts_of(connection),
            by_hand=site.by_hand_of(connection, pour_id),
        )

    def record(self, case: PourCase, result: Result, *also: tuple[PourCase, Result]) -> bool:
        pairs = ((case, result), *also)
        with self._database.writing() as connection:
            if any(self._moved(connection, one) for one, _ in pairs):
                return False
            for pair in pairs:
                _write(connection, *pair)
            return True

    def _moved(self, connection: Connection, case: PourCase) -> bool:
        pour = case.pour.id
        head = cases.head_of(connection, pour)
        # The state too: two rounds on one case must not both be written.
        now = (
            head.pour,
            head.touched,
            # One version is one object, so that comparing it with itself costs nothing.
            self._settings.numbered(connection, head.setting).site,
            cases.gates_of(connection, pour),
            cases.holds_of(connection, pour),
            head.state,
            head.revision,
        )
        then = (case.pour, case.touched, case.site, case.gates, case.holds, case.state, case.input_revision)
        return now != then

    def open_pour(self, act: Act, pour: Pour, log: LogEntry) -> None:
        with self._database.writing() as connection:
            if connection.scalar(select(t.pour.c.id).where(t.pour.c.id == pour.id)) is not None:
                raise StoreError(f"there is a pour {pour.id} already: give this one another name")
            accepted = self._settings.in_force(connection)
            self._settings.bay(connection, accepted, pour.bay)
            _close_earlier(connection, pour)
            # Those placed against it share its last end.
            touch(connection, [beside.pour for beside in cases.near(connection, accepted, pour.bay).beside])
            connection.execute(t.pour.insert().values(**pour_to(pour), touched=0))
            connection.execute(t.pour_state.insert().values(pour=pour.id, **state_to(PourState())))
            for operation in self._operations(connection, pour.bay):
                gate = Gate(pour.id, operation, changed_ms=log.at_ms)
                connection.execute(t.gate.insert().values(**gate_to(gate)))
            keep_act(connection, act)
            chain.append(connection, [log])

    def since_start(self, pour: PourId) -> SinceStart:
        with self._database.reading() as connection:
            return starts.since_start(connection, pour)

    def _operations(self, connection: Connection, bay: BayId) -> list[Operation]:
        setup = self._settings.in_force(connection).site
        own = [Operation(name) for name in (*setup.plan.also, *(r.operation for r in setup.requirement))]
        edited = [Operation(e.requirement.operation) for e in site.edits_of(connection, bay)]
        return list(dict.fromkeys([STRIP, WALK, LOAD, *own, *edited]))

    def act_on_site(self, act: SiteAct, log: LogEntry) -> None:
        with self._database.writing() as connection:
            match act:
                case FileDocument():
                    concerned = site.keep_document(connection, act)
                case Require():
                    concerned = site.keep_requirement(connection, act)
                case PutInForce():
                    concerned = put_in_force(connection, act.calibration, log.at_ms)
                case ScreenAgain() | MoveSet() | TakeOver():
                    concerned = ()
                case _:
                    raise StoreError(f"an act of kind {act.kind} is not kept here")
            keep_act(connection, act)
            chain.append(connection, [log])
            touch(connection, concerned)

    def placements_of(self, sensor: SensorId) -> Sequence[Placement]:
        with self._database.reading() as connection:
            return placed.placements_of(connection, sensor)

    def open_pours(self) -> Sequence[PourId]:
        with self._database.reading() as connection:
            return [PourId(pour) for pour in connection.scalars(_OPEN)]

    def open_pour_in(self, bay: BayId) -> Pour | None:
        with self._database.reading() as connection:
            found = connection.execute(_OPEN_IN, {"of_bay": bay}).mappings().first()
            return None if found is None else pour_from(found)

    def place(self, act: LoggerAct, before: Sequence[Placement], after: Sequence[Placement], log: LogEntry) -> bool:
        with self._database.writing() as connection:
            if not placed.change(connection, before, after):
                return False
            keep_act(connection, act)
            chain.append(connection, [log])
            touch(connection, placed.open_pours_in(connection, [*before, *after]))
            return True

    def messages_of_site(self, messages: Sequence[NewMessage]) -> int:
        with self._database.writing() as connection:
            return sum(write_message(connection, message) is not None for message in messages)

    def pour_named(self, pour: PourId) -> Pour | None:
        with self._database.reading() as connection:
            row = connection.execute(select(t.pour).where(t.pour.c.id == pour)).mappings().first()
            return None if row is None else pour_from(row)


def _conflicts(connection: Connection, sensors: Collection[SensorId], since: Ms) -> tuple[Conflict, ...]:
    rows = connection.execute(_CONFLICTS, {"sensors": sorted(sensors), "since": since}).mappings()
    return tuple(map(conflict_from, rows))


def _close_earlier(connection: Connection, pour: Pour) -> None:
    still_open = select(t.pour).where(t.pour.c.bay == pour.bay, t.pour.c.closed_ms.is_(None))
    for earlier in map(pour_from, connection.execute(still_open).mappings().all()):
        if earlier.start_ms > pour.start_ms:
            raise StoreError(f"pour {earlier.id} of bay {pour.bay} began after {pour.id}: its start cannot be right")
        closed = replace(earlier, closed_ms=pour.start_ms)
        connection.execute(
            t.pour.update().where(t.pour.c.id == earlier.id).values(**pour_to(closed), touched=t.pour.c.touched + 1)
        )


def _write(connection: Connection, case: PourCase, result: Result) -> None:
    if result.act is not None:
        keep_act(connection, result.act)
    if isinstance(result.act, StrengthTest):
        touch(connection, site.keep_test(connection, result.act))
    if isinstance(result.act, HandReading):
        site.keep_hand_reading(connection, result.act)
    _write_pour(connection, case, result)
    chain.append(connection, result.log)
    for message in result.messages:
        write_message(connection, message)
    _wake(connection, result)


def _write_pour(connection: Connection, case: PourCase, result: Result) -> None:
    """Write what differs from the case, which is what is stored."""
    pour, acted = result.pour, result.act is not None
    if acted or pour != case.pour:
        connection.execute(_WRITE_POUR, {"of_pour": pour.id, "acted": int(acted), **pour_to(pour)})
    connection.execute(_WRITE_STATE, {"of_pour": pour.id, **state_to(result.state)})
    for digest, body in result.snapshots.items():
        connection.execute(_NEW_SNAPSHOT, {"digest": digest, "body": canonical(body)})
    for gate in result.gates:
        if gate != case.gates.get(gate.operation):
            connection.execute(_WRITE_GATE, gate_to(gate))
    if set(result.holds) != set(case.holds):
        connection.execute(_DROP_HOLDS, {"of_pour": pour.id})
        for hold in result.holds:
            connection.execute(_NEW_HOLD, hold_to(pour.id, hold))


def _wake(connection: Connection, result: Result) -> None:
    for bay in result.wake:
        open_pours = select(t.pour.c.id).where(t.pour.c.bay == bay, t.pour.c.closed_ms.is_(None))
        touch(connection, connection.scalars(open_pours).all())
