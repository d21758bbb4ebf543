"""A pour that is not placed yet, as a person asks of it: made from the site file and what is told beside it. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from cure.credit import NO_EDGE_ALLOWANCE_C
from cure.forecast import Point, Slabwork, Spread, Weather
from cure.foreseeable import CLASS_SPREAD, RETARDED_LN_TAU
from cure.hydration import CLASSES, Hydration, hydration_of
from cure.planned import Judged, untold
from cure.plans import in_force
from shared.errors import PlanError
from shared.models.base import HOUR_MS, BayId, Ms, Operation, PourId
from shared.models.calibration import Calibration
from shared.models.decisions import RequirementEdit
from shared.models.requirement import AllRule, CountedRule, StrengthRule, WarmRule
from shared.models.setup import BaySettings, MixSettings, Setup, Zone


@dataclass(frozen=True, slots=True)
class Heat:
    """What the heat of a mix is reckoned from: the class of its cement, and how much of it there is."""

    cement: str
    """A type of `cure.hydration.CLASSES`."""
    binder_kg_per_m3: float
    water_binder: float
    fly_ash: float = 0.0
    """Share of the binder."""
    slag: float = 0.0

    def hydration(self) -> Hydration:
        """Return how it is expected to hydrate. Raises `PlanError` where it is no concrete."""
        if self.cement not in CLASSES:
            raise PlanError(f"no cement {self.cement!r} is known: one of {', '.join(CLASSES)}")
        if not (100.0 <= self.binder_kg_per_m3 <= 800.0 and 0.2 <= self.water_binder <= 1.0):
            raise PlanError("concrete has 100 to 800 kg/m3 of binder and 0.2 to 1 of it as water")
        of = CLASSES[self.cement]
        try:
            binder = replace(of.binder, fly_ash=self.fly_ash, slag=self.slag)
            return hydration_of(replace(of, binder=binder), self.binder_kg_per_m3, self.water_binder)
        except ValueError as error:
            raise PlanError(f"the binder: {error}") from error


@dataclass(frozen=True, slots=True)
class Needs:
    """In place of an operation's requirement."""

    operation: Operation
    counted_h: float
    at_c: float
    lower_bound_mpa: float

    def rule(self) -> AllRule:
        """Return it as a requirement of the usual form."""
        return AllRule(
            all=(
                CountedRule(counted_h=self.counted_h, at_c=self.at_c),
                WarmRule(warm_h=1.0, at_c=self.at_c),
                StrengthRule(lower_bound_mpa=self.lower_bound_mpa),
            )
        )


@dataclass(frozen=True, slots=True)
class Told:
    """What a person tells of one pour."""

    bay: BayId
    start_ms: Ms
    """First concrete."""
    pour_h: float = 2.0
    placing_c: float = 18.0
    thickness_mm: float | None = None
    """None: the bay's."""
    mix: str | None = None
    """None: the bay's."""
    heat: Heat | None = None
    """None: that of the mix by the site file; where there is none either, nothing is said."""
    needs: Needs | None = None

    def __post_init__(self) -> None:
        # Written so that NaN is refused.
        if not (0.25 <= self.pour_h <= 24.0 and 0.0 <= self.placing_c <= 40.0):
            raise PlanError("a pour takes 0.25 to 24 h, of concrete of 0 to 40 degC")
        if self.thickness_mm is not None and not 30.0 <= self.thickness_mm <= 1500.0:
            raise PlanError("a slab is 30 to 1500 mm thick")


def bay_of(setup: Setup, bay: BayId) -> BaySettings:
    """Return a bay of the site. Raises `PlanError` for one that it has not."""
    try:
        return setup.site.bay_named(bay)
    except KeyError:
        known = ", ".join(b.id for b in setup.site.bay)
        raise PlanError(f"no bay {bay!r} is on the site file; it has {known}") from None


def _calibration(setup: Setup, mix: str) -> Calibration:
    if mix not in {m.id for m in setup.site.mix}:
        raise PlanError(f"no mix {mix!r} is on the site file; it has {', '.join(m.id for m in setup.site.mix)}")
    if mix not in setup.calibrations:
        raise PlanError(f"mix {mix} has no calibration: without one no strength is foreseen; see slabhour calibrate")
    return setup.calibrations[mix]


def _heat_of(mix: MixSettings) -> Heat | None:
    if mix.heat is None:
        return None
    return Heat(mix.heat.cement, mix.heat.binder_kg_m3, mix.heat.water_binder, mix.heat.fly_ash, mix.heat.slag)


def _spread(mix: MixSettings) -> Spread:
    """Return what a forecast of a poured slab of this mix has too."""
    return replace(CLASS_SPREAD, ln_tau=RETARDED_LN_TAU) if mix.retarded else CLASS_SPREAD


def _points(bay: BaySettings) -> tuple[Point, ...]:
    inside = [s for s in bay.sensors if s.required and s.zone not in {Zone.AIR, Zone.AIR_BELOW}]
    # In another thickness a sensor lies at the same share of it.
    return tuple(
        Point(
            s.sensor_id,
            0.5 if s.depth_mm is None else min(1.0, s.depth_mm / bay.thickness_mm),
            edge=s.zone is Zone.EXPOSED_EDGE,
        )
        for s in inside
    )


def work_of(setup: Setup, told: Told, weather: Weather) -> Slabwork:
    """Return a pour for the heat model.

    Raises:
        PlanError: the bay or the mix is not known, the mix has no heat data, or the bay no sensor in its concrete.
    """
    bay = bay_of(setup, told.bay)
    mix = told.mix or bay.mix
    _calibration(setup, mix)
    settings = setup.site.mix_named(mix)
    heat = told.heat or _heat_of(settings)
    if heat is None:
        told_by = "or tell its cement, its binder and its water"
        raise PlanError(f"mix {mix} has no heat data: give it [mix.heat] in the site file, {told_by}")
    thickness_mm = float(bay.thickness_mm) if told.thickness_mm is None else told.thickness_mm
    points = _points(bay)
    if not points:
        raise PlanError(f"bay {bay.id} has no required sensor in its concrete: place one, and say so in the site file")
    long_ms = round(told.pour_h * HOUR_MS)
    return Slabwork(
        PourId(bay.id),
        told.start_ms + long_ms // 2,
        told.start_ms + long_ms,
        thickness_mm,
        heat.hydration(),
        told.placing_c,
        weather,
        points,
        spread=_spread(settings),
    )


def judged_by(
    setup: Setup,
    told: Told,
    edits: Sequence[RequirementEdit] = (),
    changed: Mapping[Operation, AllRule] = MappingProxyType({}),
) -> Judged:
    """Return by what a pour will be judged: the requirements in force, or those told in their place.

    Raises:
        PlanError: the mix has no calibration.
    """
    bay = bay_of(setup, told.bay)
    mix = told.mix or bay.mix
    plan = {operation: of.rule for operation, of in in_force(setup.site, edits).items()} | dict(changed)
    if told.needs is not None:
        plan[told.needs.operation] = told.needs.rule()
    edge = any(s.zone is Zone.EXPOSED_EDGE and s.required for s in bay.sensors)
    return Judged(
        plan,
        _calibration(setup, mix),
        setup.site.mix_named(mix),
        consent=setup.site.plan.consent_document is not None,
        lowered_c=0.0 if edge else NO_EDGE_ALLOWANCE_C,
    )


def rule_of(judged: Judged, operation: Operation) -> AllRule:
    """Return the requirement of an operation that can be foreseen. Raises `PlanError` for another."""
    told = [name for name, rule in judged.requirements.items() if not untold(rule)]
    if operation not in told:
        raise PlanError(f"of {operation!r} no hour can be foreseen; of {', '.join(told)} it can")
    return judged.requirements[operation]
