"""The laboratory for other software: results, how calibrations stand by them, a fit before and after the press."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import asdict
from datetime import date, datetime
from typing import Annotated, Any

from fastapi import Path, Response
from pydantic import BaseModel, Field, StringConstraints

from cure.cautions import OF_A_CURVE
from cure.dashboard import api_models as m
from cure.dashboard import api_views as views
from cure.dashboard.api_door import ApiParts, Caller, CallerIn, ProblemError
from cure.dashboard.api_paging import After, Limit, cursor_of, number_of
from cure.dashboard.api_writes import Key, once, prove
from cure.dashboard.beside import Judgement, Programme
from cure.dashboard.changes import changed, reaches
from cure.dashboard.faults import text_fault_said
from cure.dashboard.rules import API
from cure.programme_limits import MOST_THRESHOLDS, RANGES, THRESHOLD_MPA
from cure.verification_report import verifications
from shared.errors import SetupError
from shared.models import acts
from shared.models.base import ID_PATTERN, Id, Json, Line
from shared.models.setup import MixSettings

KIND = "test_result"
MixInPath = Annotated[str, Path(pattern=ID_PATTERN, description="mix of the site file")]
Table = Annotated[str, StringConstraints(max_length=256 * 1024)]
Short = Annotated[str, StringConstraints(min_length=1, max_length=150, pattern=r"^[^\x00-\x1f\x7f]+$")]


class ResultAnswer(BaseModel):
    """A test of the concrete, as it was entered."""

    at: datetime
    who: str
    pour: str
    method: str
    mpa: float
    equivalent_age_h: float | None
    last_third: bool
    position: str | None
    tested: datetime


class VerificationAnswer(BaseModel):
    """How each mix's calibration stands by later cylinders, as `slabhour verification --json` tells it."""

    mixes: list[dict[str, Any]]
    caution: str


def _within(limits: tuple[int, int]) -> Any:
    return Field(ge=limits[0], le=limits[1])


class ProgrammeGiven(BaseModel):
    """A laboratory's programme: cylinders broken at known ages."""

    breaks: Annotated[Table, Field(min_length=1, description="CSV, as `slabhour calibrate` reads it")]
    temperatures: Annotated[Table, Field(description="CSV of the cylinders' own records")] = ""
    lab_c: Annotated[float, Field(ge=-10, le=60)] | None = None
    """Temperature of a laboratory without such a record."""
    dose_class: Short
    supplier: Short
    laboratory: Short
    made_on: date
    valid_until: date | None = None
    cubes: Annotated[Table, Field(description="CSV of mortar cubes cured at three temperatures")] = ""
    thresholds_mpa: Annotated[list[Annotated[float, _within(THRESHOLD_MPA)]], Field(max_length=MOST_THRESHOLDS)] = []
    """Strengths that requirements ask for, at which the curve is judged; none: 3.5 and 7."""
    own_cylinders: bool = False
    """Whether a pour's own early cylinders may lower its curve at once."""
    narrow_to_percent: Annotated[float, _within(RANGES["narrow_to_percent"])] | None = None
    """And may narrow the spread of its batch to this; null: they narrow nothing."""
    narrow_from: Annotated[int, _within(RANGES["narrow_from"])] | None = None
    """And may from so many of them on; null: 4."""
    batch_sd_percent: Annotated[float, _within(RANGES["batch_sd_percent"])] | None = None
    """Spread of the mix's batches; null: 10."""


class ForceGiven(ProgrammeGiven, m.Proof):
    """A calibration to be put in force, as it was fitted and seen."""

    digest: m.Digest
    """Of the calibration that was seen."""
    second_person: Id
    why: Line


class ReachAnswer(BaseModel):
    """At which equivalent age a lower bound can first be a strength; null: not within what was tested."""

    mpa: float
    before_h: float | None
    after_h: float | None


class ChangedPour(BaseModel):
    """An unfinished pour of the mix."""

    bay: str
    pour: str
    keeps: int | None
    """The version that it keeps; null: the new one would judge it."""


class FitAnswer(BaseModel):
    """What a programme makes, and what it would change. Nothing is put in force by it."""

    verdict: str
    reasons: list[str]
    wanted: list[str]
    outliers: list[str]
    version: int
    calibration: dict[str, Any] | None
    """Null: it was refused."""
    digest: str | None
    cubes: dict[str, Any] | None
    """What became of mortar cubes, with each rate constant [degC, 1/d, standard deviation of ln k]; null: none came."""
    reaches: list[ReachAnswer]
    pours: list[ChangedPour]
    caution: str


def laboratory(api: ApiParts) -> dict[tuple[str, str], Callable[..., Any]]:
    """Return what answers which route."""
    parts, board = api.parts, api.parts.board

    def results(caller: CallerIn, cursor: After = None, limit: Limit = 100) -> m.Page[ResultAnswer]:
        """Every result that was entered, in order."""
        begin = number_of(cursor) or 0
        every = [act for act in board.acts_of(KIND) if isinstance(act, acts.StrengthTest)]
        found = [
            ResultAnswer(
                at=views.hour(act.at_ms, caller.site),
                tested=views.hour(act.at_ms if act.tested is None else acts.ms(act.tested), caller.site),
                **{name: getattr(act, name) for name in ResultAnswer.model_fields if name not in {"at", "tested"}},
            )
            for act in every[begin : begin + limit]
        ]
        more = cursor_of(begin + limit) if len(every) > begin + limit else None
        return m.Page[ResultAnswer](items=found, next=more)

    def verification(caller: CallerIn) -> VerificationAnswer:
        """How each version that is in force or judges an open pour stands by later cylinders."""
        return VerificationAnswer(mixes=[v.to_json() for v in verifications(board, caller.now)], caution=OF_A_CURVE)

    def fit(caller: CallerIn, mix: MixInPath, said: ProgrammeGiven) -> FitAnswer:
        """Fit a programme, judge it, and tell what putting it in force would change. It changes nothing."""
        of = _mix(caller, mix)
        programme = _programme(said, mix, board.newest_version(mix) + 1)
        return _fitted(api, of, programme, _judged(api, caller, programme))

    def put_in_force(caller: CallerIn, mix: MixInPath, said: ForceGiven, key: Key) -> Response:
        """Fit a programme once more and put it in force, if it is what was seen; takes password and a new code."""

        def carry_out() -> Json:
            _mix(caller, mix)
            made = _judged(api, caller, _programme(said, mix, board.newest_version(mix) + 1)).calibration
            if made is None or made.digest != said.digest:
                raise ProblemError(409, "this makes another curve than the one that was seen: fit it again")
            # Last, so that no code is used up for nothing.
            prove(api, caller, said.password, said.code)
            at, second = acts.instant(caller.now), said.second_person
            act = acts.PutInForce(at=at, who=caller.person, calibration=made, second_person=second, why=said.why)
            parts.apply(act)
            return acts.act_to(act)

        asked = said.model_dump(mode="json", exclude={"password", "code"})
        return once(api, caller, key, {"act": "put-in-force", "mix": mix, **asked}, carry_out)

    return {
        ("GET", f"{API}/test-results"): results,
        ("GET", f"{API}/verification"): verification,
        ("POST", f"{API}/mixes/{{mix}}/calibrate"): fit,
        ("POST", f"{API}/mixes/{{mix}}/put-in-force"): put_in_force,
    }


def _mix(caller: CallerIn, mix: str) -> MixSettings:
    found = next((one for one in caller.site.mix if one.id == mix), None)
    if found is None:
        raise ProblemError(404, f"there is no mix {mix} in the site file")
    return found


def _programme(said: ProgrammeGiven, mix: str, version: int) -> Programme:
    return Programme(
        mix=mix,
        breaks=said.breaks,
        temperatures=said.temperatures,
        lab_c=said.lab_c,
        dose_class=said.dose_class,
        supplier=said.supplier,
        laboratory=said.laboratory,
        made_on=said.made_on.isoformat(),
        valid_until="" if said.valid_until is None else said.valid_until.isoformat(),
        version=version,
        cubes=said.cubes,
        own_cylinders=said.own_cylinders,
        narrow_to_percent=said.narrow_to_percent,
        narrow_from=said.narrow_from,
        batch_sd_percent=said.batch_sd_percent,
        thresholds_mpa=tuple(said.thresholds_mpa),
    )


def _judged(api: ApiParts, caller: Caller, programme: Programme) -> Judgement:
    try:
        return api.parts.beside.judge(programme)
    except SetupError as error:
        raise ProblemError(422, "; ".join(text_fault_said(f, caller.reader) for f in error.faults)) from error


def _fitted(api: ApiParts, mix: MixSettings, programme: Programme, judged: Judgement) -> FitAnswer:
    board, new = api.parts.board, judged.calibration
    moves, pours = [], []
    if new is not None:
        now = next((row for row in board.mixes() if row.mix.id == mix.id and row.in_force), None)
        moves = [
            ReachAnswer(mpa=r.mpa, before_h=_finite(r.before_h), after_h=_finite(r.after_h))
            for r in reaches(judged.thresholds_mpa, now, new, mix)
        ]
        pours = [ChangedPour(bay=c.bay, pour=c.pour, keeps=c.keeps) for c in changed(board.board(), mix.id)]
    return FitAnswer(
        verdict=judged.verdict,
        reasons=list(judged.reasons),
        wanted=list(judged.wanted),
        outliers=list(judged.outliers),
        version=programme.version,
        calibration=None if new is None else new.model_dump(mode="json", exclude_none=True),
        digest=None if new is None else new.digest,
        cubes=None if judged.cubes is None else asdict(judged.cubes),
        reaches=moves,
        pours=pours,
        caution=OF_A_CURVE,
    )


def _finite(hours: float | None) -> float | None:
    return hours if hours is not None and math.isfinite(hours) else None
