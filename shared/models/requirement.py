"""What an operation needs: a small tree of rules, as a site file or the engineer's act writes it.

A rule is told by its keys. What a rule means, and its sentence: `cure.requirements`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Final, Literal

from pydantic import Discriminator, Field, Tag, model_validator

from shared.models.base import FULL_LOAD, STRIP, WALK, Line, OperationName, Record, told_by
from shared.models.people import Role

DESK: Final = (Role.SUPERINTENDENT, Role.QC, Role.ENGINEER)
"""Who may sign at all."""
ANSWERS: Final = (Role.QC, Role.ENGINEER)
SIGNERS: Final[Mapping[str, tuple[Role, ...]]] = {STRIP: DESK, WALK: DESK, FULL_LOAD: (Role.ENGINEER,)}
"""Who signs what; everything else is signed as load is, by `ANSWERS`."""

Hours = Annotated[float, Field(gt=0, le=2400)]
Celsius = Annotated[float, Field(ge=0, le=40)]
Mpa = Annotated[float, Field(ge=1.0, le=120)]
"""Nothing below 1 MPa is a strength that anything rests on: 0.35 for 3.5 is a slip of the hand."""


class AgeRule(Record):
    """Hours since the end of the pour."""

    age_h: Hours


class CountedRule(Record):
    """Cumulative hours in which the coldest zone, both ends of each interval, is at or above a temperature."""

    counted_h: Hours
    at_c: Celsius


class WarmRule(Record):
    """The coldest zone at or above a temperature now and through the last hours."""

    warm_h: Annotated[float, Field(ge=0, le=240)]
    at_c: Celsius


class StrengthRule(Record):
    """Lower bound of strength in place at the governing zone."""

    lower_bound_mpa: Mpa


class DoneRule(Record):
    """Another operation is done, on a release."""

    done: OperationName


class TestsRule(Record):
    """Strength by tests of the concrete itself: the lowest of enough valid ones."""

    __test__ = False

    tested_mpa: Mpa | None = None
    tested_percent: Annotated[float, Field(ge=10, le=100)] | None = None
    """Of the mix's specified strength, in place of `tested_mpa`."""
    method: Literal["cylinder", "in slab"] | None = None
    """None: either."""
    at_least: Annotated[int, Field(ge=2, le=20)] = 2

    @model_validator(mode="after")
    def _one_limit(self) -> TestsRule:
        if (self.tested_mpa is None) == (self.tested_percent is None):
            raise ValueError("write one of tested_mpa and tested_percent")
        return self


class DocumentRule(Record):
    """A document is on file for the pour, its bay or the site."""

    document: Line


class ConstructionLoadRule(Record):
    """The engineer's construction load for the bay is on file."""

    construction_load: Literal[True]


class ConsentRule(Record):
    """The engineer's written consent is on file."""

    consent: Literal[True]


class NoStripNearRule(Record):
    """No strip under way below or beside."""

    no_strip_near: Literal[True]


class SurfaceNearAirRule(Record):
    """The surface within so much of the air."""

    surface_within_c: Annotated[float, Field(gt=0, le=40)]


class DropRule(Record):
    """The concrete has dropped by no more than this over the hours."""

    drop_c: Annotated[float, Field(gt=0, le=60)]
    over_h: Hours


class AllRule(Record):
    """Every part is met."""

    all: Annotated[tuple[_Told, ...], Field(min_length=1)]


class AnyRule(Record):
    """One way is enough."""

    any: Annotated[tuple[_Told, ...], Field(min_length=2)]


Rule = (
    AgeRule
    | CountedRule
    | WarmRule
    | StrengthRule
    | DoneRule
    | TestsRule
    | DocumentRule
    | ConstructionLoadRule
    | ConsentRule
    | NoStripNearRule
    | SurfaceNearAirRule
    | DropRule
    | AllRule
    | AnyRule
)
_TELLING: Final = {
    "age_h": "age_h",
    "counted_h": "counted_h",
    "warm_h": "warm_h",
    "lower_bound_mpa": "lower_bound_mpa",
    "done": "done",
    "tested_mpa": "tested_mpa",
    "tested_percent": "tested_mpa",
    "document": "document",
    "construction_load": "construction_load",
    "consent": "consent",
    "no_strip_near": "no_strip_near",
    "surface_within_c": "surface_within_c",
    "drop_c": "drop_c",
    "all": "all",
    "any": "any",
}
"""By which key a rule is told, so that a slip in it is one fault and not one for every rule that it is not."""


def _told_by(rule: object) -> str | None:
    return told_by(rule, _TELLING)


_Told = Annotated[
    Annotated[AgeRule, Tag("age_h")]
    | Annotated[CountedRule, Tag("counted_h")]
    | Annotated[WarmRule, Tag("warm_h")]
    | Annotated[StrengthRule, Tag("lower_bound_mpa")]
    | Annotated[DoneRule, Tag("done")]
    | Annotated[TestsRule, Tag("tested_mpa")]
    | Annotated[DocumentRule, Tag("document")]
    | Annotated[ConstructionLoadRule, Tag("construction_load")]
    | Annotated[ConsentRule, Tag("consent")]
    | Annotated[NoStripNearRule, Tag("no_strip_near")]
    | Annotated[SurfaceNearAirRule, Tag("surface_within_c")]
    | Annotated[DropRule, Tag("drop_c")]
    | Annotated[AllRule, Tag("all")]
    | Annotated[AnyRule, Tag("any")],
    Discriminator(_told_by),
]
AllRule.model_rebuild()
AnyRule.model_rebuild()


class Requirement(Record):
    """[[requirement]]: what one operation needs, and who signs it."""

    operation: OperationName
    all: Annotated[tuple[_Told, ...], Field(min_length=1)]
    signed_by: Annotated[tuple[Role, ...], Field(min_length=1)] | None = None
    """Roles of which one signs; none: as shipped."""
    each_signs: bool = False
    """Every role of `signed_by` signs, each by its own person."""


def signing_roles(operation: str, signed_by: tuple[Role, ...] | None = None) -> tuple[Role, ...]:
    """Return the roles that sign an operation: those that its requirement names, else as shipped."""
    return SIGNERS.get(operation, ANSWERS) if signed_by is None else signed_by
