"""Starts of pours: what each ended, and those that were taken back."""

from __future__ import annotations

from typing import Final

from sqlalchemy import Connection, and_, bindparam, exists, select

from shared.errors import StoreError
from shared.models.base import Ms, PourId
from shared.ports import SinceStart
from shared.store import tables as t

STARTED: Final = "pour_start"
TAKEN_BACK: Final = "take_back"

_A, _P = t.act.c, t.pour.c
_BACK: Final = t.act.alias()
IS_VOID: Final = exists().where(_BACK.c.kind == TAKEN_BACK, _BACK.c.pour == _P.id)
"""Whether the start of a pour was taken back."""
_OF_POUR: Final = select(_P.bay, _P.start_ms).where(_P.id == bindparam("of_pour"))
_ENDED: Final = (
    # Of several that were started at one hour only the last was open when it was ended.
    select(_P.id)
    .outerjoin(t.act, and_(_A.pour == _P.id, _A.kind == STARTED))
    .where(_P.bay == bindparam("of_bay"), _P.closed_ms == bindparam("at_ms"), _P.id != bindparam("but"), ~IS_VOID)
    .order_by(_A.no.desc())
    .limit(1)
)
_KINDS: Final = select(_A.kind).where(_A.pour == bindparam("of_pour")).distinct()
_VOID: Final = select(_A.pour, _A.at_ms).where(_A.kind == TAKEN_BACK)


def since_start(connection: Connection, pour: PourId) -> SinceStart:
    """Return what hangs on the start of a pour. Raises `StoreError` for an unknown one."""
    found = connection.execute(_OF_POUR, {"of_pour": pour}).first()
    if found is None:
        raise StoreError(f"there is no pour {pour}")
    ended = connection.scalar(_ENDED, {"of_bay": found.bay, "at_ms": found.start_ms, "but": pour})
    kinds = frozenset(connection.scalars(_KINDS, {"of_pour": pour}))
    return SinceStart(None if ended is None else PourId(ended), kinds)


def void(connection: Connection) -> dict[str, Ms]:
    """Return the pours whose start was taken back, with when."""
    return {row.pour: row.at_ms for row in connection.execute(_VOID)}
