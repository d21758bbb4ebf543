"""What is on file for pours, bays and the site, and what the service knows of itself: rows of small tables."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from sqlalchemy import Connection, RowMapping, and_, bindparam, or_, select

from shared import units
from shared.models.acts import FileDocument, HandReading, Require, StrengthTest, ms
from shared.models.base import BayId, PourId
from shared.models.decisions import ByHand, ClockSpan, Document, Doubt, MixTest, Pour, RequirementEdit, TestResult
from shared.store import tables as t
from shared.store.codec import canonical
from shared.store.rows_site import SPAN, by_hand_from, document_from, doubt_from, edit_from, span_from, test_result_from

# Built once: making a statement costs more than running it.
_D, _R = t.document.c, t.requirement.c
_DOCUMENTS: Final = (
    select(t.document)
    .where(
        or_(
            _D.pour == bindparam("of_pour"),
            and_(_D.pour.is_(None), or_(_D.bay.is_(None), _D.bay == bindparam("of_bay"))),
        )
    )
    .order_by(_D.no)
)
_TESTS: Final = select(t.test_result).where(t.test_result.c.pour == bindparam("of_pour")).order_by(t.test_result.c.no)
_BY_HAND: Final = (
    select(t.hand_reading).where(t.hand_reading.c.pour == bindparam("of_pour")).order_by(t.hand_reading.c.no)
)
_MIX_TESTS: Final = (
    select(t.test_result.c.pour, t.test_result.c.tested_ms, t.test_result.c.equivalent_age_h, t.test_result.c.mpa)
    .join(t.pour, t.pour.c.id == t.test_result.c.pour)
    .where(
        t.pour.c.mix == bindparam("of_mix"),
        t.pour.c.calibration_version == bindparam("of_version"),
        t.test_result.c.method == "cylinder",
        t.test_result.c.equivalent_age_h.is_not(None),
    )
    .order_by(t.test_result.c.tested_ms, t.test_result.c.no)
)
_EDITS: Final = select(t.requirement).where(or_(_R.bay.is_(None), _R.bay == bindparam("of_bay"))).order_by(_R.version)
_CLOCK: Final = select(*SPAN).order_by(t.clock_span.c.no)
_DOUBTS: Final = select(t.doubt).order_by(t.doubt.c.kind)
_OPEN: Final = select(t.pour.c.id).where(t.pour.c.closed_ms.is_(None))


def documents_of(connection: Connection, pour: Pour) -> tuple[Document, ...]:
    """Return what is on file for a pour, its bay or the site."""
    rows = connection.execute(_DOCUMENTS, {"of_pour": pour.id, "of_bay": pour.bay}).mappings()
    return tuple(map(document_from, rows))


def tests_of(connection: Connection, pour: PourId) -> tuple[TestResult, ...]:
    """Return the tests of a pour's concrete, in the order in which they were handed in."""
    return tuple(map(test_result_from, connection.execute(_TESTS, {"of_pour": pour}).mappings()))


def by_hand_of(connection: Connection, pour: PourId) -> tuple[ByHand, ...]:
    """Return the temperatures measured by hand at a pour, in the order in which they were handed in."""
    return tuple(map(by_hand_from, connection.execute(_BY_HAND, {"of_pour": pour}).mappings()))


def mix_tests_of(connection: Connection, mix: str, version: int | None) -> tuple[MixTest, ...]:
    """Return the cylinders of every pour of a mix that is judged by a version of its calibration."""
    of = {"of_mix": mix, "of_version": version}
    return tuple(MixTest(**row) for row in connection.execute(_MIX_TESTS, of).mappings())


def edits_of(connection: Connection, bay: BayId) -> tuple[RequirementEdit, ...]:
    """Return the newest requirement of each operation that has one: the bay's own before the site's."""
    newest: dict[str, RowMapping] = {}
    for row in connection.execute(_EDITS, {"of_bay": bay}).mappings():
        before = newest.get(row["operation"])
        if row["bay"] is not None or before is None or before["bay"] is None:
            newest[row["operation"]] = row
    return tuple(map(edit_from, sorted(newest.values(), key=lambda row: int(row["version"]))))


def clock_of(connection: Connection) -> tuple[ClockSpan, ...]:
    """Return how the service's clock has run, oldest first."""
    return tuple(map(span_from, connection.execute(_CLOCK)))


def doubts_of(connection: Connection) -> tuple[Doubt, ...]:
    """Return the open doubts about the service itself."""
    return tuple(map(doubt_from, connection.execute(_DOUBTS).mappings()))


def _concerned(connection: Connection, bay: str | None, pour: str | None = None) -> Collection[PourId]:
    """Return the open pours that something is about: the one named, else those of the bay, else all."""
    named = _OPEN if bay is None else _OPEN.where(t.pour.c.bay == bay)
    if pour is not None:
        named = _OPEN.where(t.pour.c.id == pour)
    return [PourId(found) for found in connection.scalars(named)]


def keep_document(connection: Connection, act: FileDocument) -> Collection[PourId]:
    """Put a document on file; return the open pours that it concerns."""
    row = {"name": act.name, "reference": act.reference, "bay": act.bay, "pour": act.pour}
    connection.execute(t.document.insert().values(**row, who=act.who, at_ms=act.at_ms))
    return _concerned(connection, act.bay, act.pour)


def keep_requirement(connection: Connection, act: Require) -> Collection[PourId]:
    """Store a requirement as the next version; return the open pours that it concerns."""
    connection.execute(
        t.requirement.insert().values(
            at_ms=act.at_ms,
            operation=act.requirement.operation,
            bay=act.bay,
            who=act.who,
            second_person=act.second_person,
            why=act.why,
            body=canonical(act.requirement.model_dump(mode="json", exclude_none=True)),
        )
    )
    return _concerned(connection, act.bay)


def keep_test(connection: Connection, act: StrengthTest) -> list[PourId]:
    """Store a test of a pour's concrete; return the open pours of its mix, which it concerns."""
    connection.execute(
        t.test_result.insert().values(
            pour=act.pour,
            method=act.method,
            mpa=act.mpa,
            equivalent_age_h=act.equivalent_age_h,
            last_third=int(act.last_third),
            position=act.position,
            tested_ms=act.at_ms if act.tested is None else ms(act.tested),
            who=act.who,
        )
    )
    mix = select(t.pour.c.mix).where(t.pour.c.id == act.pour).scalar_subquery()
    return [PourId(pour) for pour in connection.scalars(_OPEN.where(t.pour.c.mix == mix))]


def keep_hand_reading(connection: Connection, act: HandReading) -> None:
    """Store a temperature that a person measured."""
    connection.execute(
        t.hand_reading.insert().values(
            pour=act.pour,
            taken_ms=act.at_ms if act.happened is None else ms(act.happened),
            milli_c=units.milli_c(act.temperature_c),
            position=act.position,
            zone=None if act.zone is None else act.zone.value,
            under_insulation=int(act.under_insulation),
            who=act.who,
        )
    )
