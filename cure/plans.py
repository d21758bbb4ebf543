"""The requirements in force for a pour: the engineer's on the site book, else the site file's, else the plan's."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from cure.limits import LIMITS
from cure.requirements import Evidence, sentence
from shared.models.base import FULL_LOAD, LOAD, STRIP, UNCOVER, WALK, Operation
from shared.models.decisions import RequirementEdit
from shared.models.people import Role
from shared.models.requirement import (
    AllRule,
    AnyRule,
    ConsentRule,
    ConstructionLoadRule,
    CountedRule,
    DoneRule,
    DropRule,
    NoStripNearRule,
    Requirement,
    Rule,
    StrengthRule,
    SurfaceNearAirRule,
    TestsRule,
    WarmRule,
    signing_roles,
)
from shared.models.setup import SiteFile

COMMON_HOURS: Final = 24.0
COMMON_C: Final = 5.0
STRIP_MPA: Final = 3.5
LOAD_HOURS: Final = 48.0
LOAD_MPA: Final = 7.0
"""Common practice for a thin slab on removable forms between joists, no source: 24 h, 5 degC (40 degF), 3.5 MPa
(500 psi), 48 h, 7 MPa (1000 psi). 3.5 MPa is more than 500 psi and 5 degC more than 40 degF: the stricter is stored."""
LIGHT_LOAD_KPA: Final = 1.0
"""Until the load strength is there, under `clock-or-strength`."""
GONE: Final = "written no more"


def _strip(at_c: float) -> tuple[Rule, ...]:
    return (
        CountedRule(counted_h=COMMON_HOURS, at_c=at_c),
        WarmRule(warm_h=1.0, at_c=at_c),
        StrengthRule(lower_bound_mpa=STRIP_MPA),
    )


_NEAR: Final = NoStripNearRule(no_strip_near=True)
_LOAD_ON_FILE: Final = ConstructionLoadRule(construction_load=True)
_STRIPPED: Final = DoneRule(done=STRIP)
_LOAD: Final = (_STRIPPED, StrengthRule(lower_bound_mpa=LOAD_MPA), _LOAD_ON_FILE, _NEAR)
_BY_CLOCK: Final = AllRule(
    all=(
        CountedRule(counted_h=LOAD_HOURS, at_c=10.0),
        StrengthRule(lower_bound_mpa=5.0),
        ConsentRule(consent=True),
    )
)
_LOAD_BY_CLOCK: Final = (
    _STRIPPED,
    AnyRule(any=(StrengthRule(lower_bound_mpa=LOAD_MPA), _BY_CLOCK)),
    _LOAD_ON_FILE,
    _NEAR,
)


def _plan(at_c: float, load: tuple[Rule, ...]) -> Mapping[Operation, AllRule]:
    return {
        STRIP: AllRule(all=_strip(at_c)),
        WALK: AllRule(all=(*_strip(at_c), _NEAR)),
        LOAD: AllRule(all=load),
    }


PLANS: Final[Mapping[str, Mapping[Operation, AllRule]]] = {
    "common-practice": _plan(COMMON_C, _LOAD),
    "clock-or-strength": _plan(COMMON_C, _LOAD_BY_CLOCK),
    "strict": _plan(10.0, _LOAD),
}
FURTHER: Final[Mapping[Operation, AllRule]] = {
    # Before it the bare joists carry everything. 75 %: common practice, no source.
    FULL_LOAD: AllRule(all=(DoneRule(done=LOAD), TestsRule(tested_percent=75.0), _NEAR)),
    # ACI 306.1-90 for thin members, read in a summary: 3 d.
    UNCOVER: AllRule(
        all=(
            CountedRule(counted_h=72.0, at_c=LIMITS["kept in the cold, below 300 mm"].value),
            SurfaceNearAirRule(surface_within_c=LIMITS["surface to air when uncovered"].value),
            DropRule(drop_c=LIMITS["drop in 24 h, below 300 mm"].value, over_h=24.0),
        )
    ),
}
"""What a site gets when its plan asks for it (`also`)."""


@dataclass(frozen=True, slots=True)
class InForce:
    """A requirement as a pour is judged by it."""

    requirement: Requirement
    version: str
    """Where it is from: "plan common-practice", "site file", "edit 3"; `GONE`."""
    by_engineer: bool
    """Written on the site book, by the engineer with a second person."""

    @property
    def rule(self) -> AllRule:
        """All that must be met."""
        return AllRule(all=self.requirement.all)

    def __str__(self) -> str:
        return sentence(self.rule)

    @property
    def signed_by(self) -> tuple[Role, ...]:
        """The roles that sign it."""
        return signing_roles(self.requirement.operation, self.requirement.signed_by)


def in_force(
    site: SiteFile, edits: Sequence[RequirementEdit], kept: Mapping[Operation, Requirement] = MappingProxyType({})
) -> Mapping[Operation, InForce]:
    """Return each operation's requirement: strip, walk and load first, then the others as they are written.

    Args:
        site: the set-up in force.
        edits: what the engineer wrote on the site book.
        kept: what a pour was judged by so far; an operation that nobody writes any more is judged by it still.
    """
    found: dict[Operation, InForce] = {}
    shipped = {**PLANS[site.plan.use], **{Operation(name): FURTHER[Operation(name)] for name in site.plan.also}}
    for operation, rule in shipped.items():
        found[operation] = InForce(Requirement(operation=operation, all=rule.all), f"plan {site.plan.use}", False)
    for written in site.requirement:
        found[Operation(written.operation)] = InForce(written, "site file", False)
    for edit in edits:
        found[Operation(edit.requirement.operation)] = InForce(edit.requirement, f"edit {edit.version}", True)
    return {**found, **{op: InForce(was, GONE, False) for op, was in kept.items() if op not in found}}


def allowed_load_kpa(evidence: Evidence) -> float | None:
    """Return the construction load that a load release allows now: the engineer's, light until 7 MPa."""
    load = evidence.construction_load_kpa()
    if load is None or evidence.lower_bound_mpa() >= LOAD_MPA:
        return load
    return min(load, LIGHT_LOAD_KPA)
