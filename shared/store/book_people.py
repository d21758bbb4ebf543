"""The site book as the pages' door sees it: accounts, invitations, sessions, devices."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, RowMapping, delete, insert, select, update

from shared.models.accounts import Account, DeviceKey, Invitation, Session
from shared.models.base import Ms
from shared.models.decisions import LogEntry
from shared.models.people import Role
from shared.store import chain
from shared.store import tables_people as t
from shared.store.database import Database, inserting

_A, _I, _S, _D = t.account.c, t.invitation.c, t.session.c, t.device.c


def _role(text: str | None) -> Role | None:
    return None if text is None else Role(text)


def _account(row: RowMapping) -> Account:
    return Account(
        id=row["id"],
        role=_role(row["role"]),
        hashed=row["hashed"],
        secret=row["secret"],
        since_ms=row["since_ms"],
        code_step=row["code_step"],
        ended_ms=row["ended_ms"],
    )


def _row(account: Account) -> dict[str, str | int | None]:
    return {
        "id": account.id,
        "role": account.role,
        "hashed": account.hashed,
        "secret": account.secret,
        "since_ms": account.since_ms,
        "code_step": account.code_step,
        "ended_ms": account.ended_ms,
    }


def _device(row: RowMapping) -> DeviceKey:
    return DeviceKey(row["no"], row["digest"], row["name"], row["who"], row["since_ms"], row["ended_ms"])


class SqlPeopleBook:
    """The `PeopleBook` port."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def accounts(self) -> Sequence[Account]:
        with self._database.reading() as connection:
            return [_account(row) for row in connection.execute(select(t.account).order_by(_A.id)).mappings()]

    def account(self, person: str) -> Account | None:
        with self._database.reading() as connection:
            row = connection.execute(select(t.account).where(_A.id == person)).mappings().first()
        return None if row is None else _account(row)

    def invite(self, invitation: Invitation, log: LogEntry) -> None:
        with self._database.writing() as connection:
            connection.execute(delete(t.invitation).where(_I.person.is_not_distinct_from(invitation.person)))
            row = {
                "digest": invitation.digest,
                "person": invitation.person,
                "role": invitation.role,
                "who": invitation.by,
                "since_ms": invitation.since_ms,
                "until_ms": invitation.until_ms,
            }
            connection.execute(insert(t.invitation).values(row))
            chain.append(connection, [log])

    def invitation(self, digest: str, now: Ms) -> Invitation | None:
        asked = select(t.invitation).where(_I.digest == digest, _I.until_ms > now)
        with self._database.reading() as connection:
            row = connection.execute(asked).mappings().first()
        if row is None:
            return None
        role = _role(row["role"])
        return Invitation(row["digest"], row["person"], role, row["who"], row["since_ms"], row["until_ms"])

    def join(self, digest: str, account: Account, log: LogEntry) -> bool:
        with self._database.writing() as connection:
            open_still = (_I.digest == digest) & (_I.until_ms > account.since_ms)
            if connection.execute(delete(t.invitation).where(open_still)).rowcount == 0:
                return False
            row = _row(account)
            kept = inserting(t.account).values(row)
            connection.execute(kept.on_conflict_do_update(index_elements=[_A.id], set_=row))
            _shut(connection, account.id)
            chain.append(connection, [log])
            return True

    def end_account(self, person: str, at_ms: Ms, log: LogEntry) -> bool:
        with self._database.writing() as connection:
            going = (_A.id == person) & _A.ended_ms.is_(None)
            if connection.execute(update(t.account).where(going).values(ended_ms=at_ms)).rowcount == 0:
                return False
            _shut(connection, person)
            chain.append(connection, [log])
            return True

    def use_code(self, person: str, step: int) -> bool:
        newer = (_A.id == person) & (_A.code_step < step)
        with self._database.writing() as connection:
            return connection.execute(update(t.account).where(newer).values(code_step=step)).rowcount == 1

    def begin_session(self, session: Session) -> None:
        row = {
            "digest": session.digest,
            "person": session.person,
            "csrf": session.csrf,
            "since_ms": session.since_ms,
            "until_ms": session.until_ms,
        }
        with self._database.writing() as connection:
            connection.execute(delete(t.session).where(_S.until_ms <= session.since_ms))
            connection.execute(insert(t.session).values(row))

    def session(self, digest: str, now: Ms) -> Session | None:
        asked = select(t.session).where(_S.digest == digest, _S.until_ms > now)
        with self._database.reading() as connection:
            row = connection.execute(asked).mappings().first()
        return None if row is None else Session(**row)

    def end_session(self, digest: str) -> None:
        with self._database.writing() as connection:
            connection.execute(delete(t.session).where(_S.digest == digest))

    def add_device(self, device: DeviceKey, log: LogEntry) -> int:
        row = {"digest": device.digest, "name": device.name, "who": device.by, "since_ms": device.since_ms}
        with self._database.writing() as connection:
            number = connection.scalar(insert(t.device).values(row).returning(_D.no))
            chain.append(connection, [log])
        return int(number or 0)

    def devices(self) -> Sequence[DeviceKey]:
        asked = select(t.device).where(_D.ended_ms.is_(None)).order_by(_D.no)
        with self._database.reading() as connection:
            return [_device(row) for row in connection.execute(asked).mappings()]

    def end_device(self, no: int, at_ms: Ms, log: LogEntry) -> bool:
        with self._database.writing() as connection:
            going = (_D.no == no) & _D.ended_ms.is_(None)
            if connection.execute(update(t.device).where(going).values(ended_ms=at_ms)).rowcount == 0:
                return False
            chain.append(connection, [log])
            return True


def _shut(connection: Connection, person: str) -> None:
    """End whatever lets a person in but their password: sessions, and invitations that were not used."""
    connection.execute(delete(t.session).where(_S.person == person))
    connection.execute(delete(t.invitation).where(_I.person == person))
