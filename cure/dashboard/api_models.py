"""What the interface for other software answers. Hours are ISO 8601 with the site's offset; values are SI."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Generic, TypeVar

from pydantic import BaseModel, Field, StringConstraints

from cure.dashboard.api_estimate import EstimateAnswer
from shared.models.base import ID_PATTERN, OperationName, PourName

Item = TypeVar("Item")
BayName = Annotated[str, StringConstraints(pattern=ID_PATTERN)]
Cursor = Annotated[str, StringConstraints(pattern=r"^c[0-9]{1,15}$")]
Digest = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Number = Annotated[int, Field(ge=1, lt=2**53)]


class Me(BaseModel):
    """Whose token it is, and what it opens."""

    name: str
    person: str
    role: str
    scopes: list[str]
    until: datetime | None


class SiteAnswer(BaseModel):
    """The site, and how the service about itself."""

    id: str
    name: str
    zone: str
    units: str
    now: datetime
    in_doubt: list[str]
    """Doubts about the service itself: while there is one, nothing counts as released."""
    notes: list[str]
    caution: str


class FindingAnswer(BaseModel):
    """One rule held against the evidence."""

    rule: str
    found: float | str | None
    limit: float | str | None
    unit: str
    met: bool
    sentence: str


class ForetoldAnswer(BaseModel):
    """What is foreseen of an operation that waits. EXPECTED, NOT RELEASED; null: not within what is foreseen."""

    p10: datetime | None
    p50: datetime | None
    p90: datetime | None
    wanted: datetime | None
    """The hour that a person wants."""
    chance: float | None
    """That it is met by then."""
    waits_for: dict[str, float]
    """Share of what may come in which each comes last: clock hours, cold hours, strength."""
    spread: dict[str, float]
    """Share of the width that each explains: weather, heat model, mix."""


class GateAnswer(BaseModel):
    """Where one operation of a pour stands."""

    bay: str
    pour: str
    operation: str
    standing: str
    """What may be acted on: the state, or "keep off" while forms are stripped below or beside, or "in doubt" while
    nobody judges the evidence."""
    released: bool
    """Whether it may be done now; never true of what is in doubt, expected, or met and not signed."""
    state: str
    """As it is stored."""
    epoch: int
    since: datetime
    reason: str
    signers: list[str]
    evidence: str | None
    """Digest of what it rests on: GET evidence/{digest}."""
    item: str
    """What a signature binds."""
    findings: list[FindingAnswer]
    missing: list[str]
    expected: datetime | None
    """EXPECTED, NOT RELEASED: with an even chance; null: not known, or not waited for."""
    expected_cautious: datetime | None
    """EXPECTED, NOT RELEASED: the hour that nine forecasts in ten keep; null: likewise, or none is foreseen."""
    forecast: ForetoldAnswer | None
    """Null: it is not waited for, or nothing is foreseen of it."""


class HoldAnswer(BaseModel):
    """A doubt that a person lifts."""

    kind: str
    since: datetime
    owner: str
    reason: str
    how: str


class PourAnswer(BaseModel):
    """One open pour."""

    bay: str
    floor: str
    pour: str
    mix: str
    start: datetime
    end: datetime | None
    in_doubt: bool
    """Whether nobody judges the evidence now."""
    gates: list[GateAnswer]
    holds: list[HoldAnswer]
    estimate: EstimateAnswer | None
    no_forecast: str
    """Why nothing is foreseen of it, and how to mend that; "": something is, or nobody has looked."""
    forecast_notes: list[str]
    """Why what is foreseen is wider than it might be."""


class BoardAnswer(BaseModel):
    """The board."""

    now: datetime
    in_doubt: list[str]
    pours: list[PourAnswer]
    caution: str


class BayAnswer(BaseModel):
    """One bay of the site file, with its open pour."""

    id: str
    floor: str
    mix: str
    thickness_mm: int
    exclusions: str
    construction_load_kpa: float | None
    pour: PourAnswer | None
    caution: str


class ReadingAnswer(BaseModel):
    """One temperature."""

    taken: datetime
    temperature_c: float
    received: datetime


class DecisionAnswer(BaseModel):
    """A step of a gate, or a hold, as the site's log has it."""

    line: int
    at: datetime
    who: str
    what: str
    body: dict[str, Any]


class DeliveryAnswer(BaseModel):
    """A message to one recipient through one channel."""

    recipient: str
    channel: int
    state: str
    attempts: int
    accepted: datetime | None
    outcome: str


class MessageAnswer(BaseModel):
    """What was told, and what became of it."""

    no: int
    code: str
    kind: str
    pour: str
    subject: str
    epoch: int
    at: datetime
    valid_until: datetime | None
    facts: dict[str, Any]
    deliveries: list[DeliveryAnswer]


class RecordAnswer(BaseModel):
    """A message that has a record, and whether it still stands."""

    no: int
    code: str
    kind: str
    pour: str
    operation: str
    at: datetime
    stands: bool
    """Whether the gate is still where this record says; a pour that is closed stands no more."""
    caution: str


class LoggerAnswer(BaseModel):
    """A sensor as the list of loggers shows it."""

    name: str
    standing: str
    bay: str | None
    zone: str | None
    depth_mm: int | None
    heard: datetime | None
    temperature_c: float | None
    battery_percent: float | None
    signal_db: float | None
    to_do: str


class CalibrationAnswer(BaseModel):
    """One version of a mix's calibration."""

    mix: str
    version: int
    in_force: bool
    calibration: dict[str, Any]
    pours: list[str]


class Page(BaseModel, Generic[Item]):
    """A page of a list. It may hold fewer than asked for and still have a next one."""

    items: list[Item]
    next: str | None
    """The cursor of the next page; null: this is the last."""


class Acted(BaseModel):
    """An act as it was carried out."""

    done: dict[str, Any]


class ToSign(BaseModel):
    """Requirements of one pour to sign, as they were seen."""

    pour: PourName
    operations: Annotated[list[OperationName], Field(min_length=1, max_length=20)]
    items: Annotated[list[Annotated[str, StringConstraints(max_length=200)]], Field(min_length=1, max_length=20)]
    """`item` of each gate: evidence that has turned since cannot be signed."""
    read: bool
    """The findings and what stays forbidden were read."""
    nothing_else: bool
    """It is understood that nothing else is released by it."""
    password: Annotated[str, StringConstraints(min_length=1, max_length=256)]
    code: Annotated[str, StringConstraints(min_length=1, max_length=12)]
    """Of the authenticator; each counts once."""


class Proof(BaseModel):
    """That the person is there: nobody else can speak for a second person, or change what is judged."""

    password: Annotated[str, StringConstraints(min_length=1, max_length=256)]
    code: Annotated[str, StringConstraints(min_length=1, max_length=12)]
    """Of the authenticator; each counts once."""


class ProblemAnswer(BaseModel):
    """What is wrong (RFC 9457)."""

    type: str
    title: str
    status: int
    detail: str
    errors: list[dict[str, Any]] | None = None
