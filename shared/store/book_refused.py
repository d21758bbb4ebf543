"""The site book as screening again sees it: refusals, and what became of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from sqlalchemy import Select, select

from shared.models.base import Ms, SensorId
from shared.models.readings import Refusal
from shared.store import tables as t
from shared.store.database import Database, inserting
from shared.store.rows import refusal_from

REFUSALS: Final[Select[Any]] = (
    select(t.refused, t.refusal_decided.c.at_ms, t.refusal_decided.c.outcome)
    .outerjoin(t.refusal_decided, t.refusal_decided.c.refused == t.refused.c.no)
    .order_by(t.refused.c.no)
)
_STANDING: Final = REFUSALS.where(t.refusal_decided.c.refused.is_(None))
_DECIDE: Final = inserting(t.refusal_decided).on_conflict_do_nothing()


class SqlRefusedBook:
    """The `RefusedBook` port."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def standing(self, sensor: SensorId | None) -> Sequence[Refusal]:
        asked = _STANDING if sensor is None else _STANDING.where(t.refused.c.sensor == sensor)
        with self._database.reading() as connection:
            return [refusal_from(row) for row in connection.execute(asked).mappings()]

    def decide(self, outcomes: Mapping[int, str], at_ms: Ms) -> None:
        rows = [{"refused": no, "at_ms": at_ms, "outcome": said} for no, said in outcomes.items()]
        if rows:
            with self._database.writing() as connection:
                connection.execute(_DECIDE, rows)
