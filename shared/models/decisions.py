"""What is decided about a pour: findings, gates, holds, and what cure remembers between rounds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from shared import units
from shared.models.base import BayId, Json, MilliC, MixId, Ms, Operation, PourId, SensorId
from shared.models.estimate import Estimate
from shared.models.requirement import Requirement
from shared.models.setup import Zone


@dataclass(frozen=True, slots=True)
class Pour:
    """One placement in a bay. Bay names are reused; pours are not."""

    id: PourId
    bay: BayId
    mix: MixId
    start_ms: Ms
    end_ms: Ms | None = None
    """When the last concrete of it was placed; None while it is being placed or nobody said."""
    closed_ms: Ms | None = None
    """From here on readings of the bay belong to the next pour."""
    calibration_version: int | None = None
    """The version it is judged by, kept when a newer one comes."""


@dataclass(frozen=True, slots=True)
class Placement:
    """A sensor in a bay, in a zone, from ... to ...; `to_ms` None while it is there."""

    sensor: SensorId
    bay: BayId
    zone: Zone
    depth_mm: int | None
    interval_s: int
    required: bool
    from_ms: Ms = 0
    to_ms: Ms | None = None
    position: str | None = None
    """Where, in words."""
    by: str | None = None
    """Who entered it; None: it stands in the site file."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One rule held against one pour."""

    rule: str
    found: float | str | None
    """None: not known, which is never met."""
    limit: float | str | None
    unit: units.Unit
    met: bool
    lasting: bool = True
    """A lasting finding that fails after a release withdraws it; a momentary one (temperature now) does not."""

    def explain(self, first: units.System = "SI") -> str:
        """Return the sentence that page, log, message and record all show."""
        found = units.shown(self.found, self.unit, first=first, limit=False)
        verdict = "met" if self.met else "not met"
        if self.limit is None:
            return f"{self.rule}: {found} - {verdict}"
        return f"{self.rule}: {found}, needs {units.shown(self.limit, self.unit, first=first, limit=True)} - {verdict}"


class GateState(StrEnum):
    """Where one operation of one pour stands. Meanings: README, "States of a gate"."""

    NOT_SET_UP = "not set up"
    CURING = "curing"
    HOLD = "hold"
    MET = "met"
    RELEASED = "released"
    UNDER_WAY = "under way"
    DONE = "done"
    WITHDRAWN = "withdrawn"
    DONE_WITHOUT_RELEASE = "done without release"
    SUSPENDED = "suspended"


@dataclass(frozen=True, slots=True)
class Gate:
    """The stored row of one (pour, operation)."""

    pour: PourId
    operation: Operation
    state: GateState = GateState.NOT_SET_UP
    epoch: int = 0
    """Counts releases: a message of an older epoch is not true any more."""
    changed_ms: Ms = 0
    reason: str = ""
    steady_from_ms: Ms | None = None
    """Site time of the first of the estimates that found the requirement met without a break; while curing."""
    snapshot: str | None = None
    """Digest of the evidence that met it."""
    signers: tuple[str, ...] = ()
    before: GateState | None = None
    """What it was when it was suspended."""


class HoldKind(StrEnum):
    """A doubt that a person must lift."""

    FREEZE_SUSPECTED = "freeze suspected"
    FREEZE_LOCKED = "freeze locked"
    CONFLICT = "conflicting readings"
    SENSOR_DOUBTFUL = "sensor doubtful"
    PLACEMENT = "placement in doubt"
    MIX = "mix in doubt"
    TICKET = "ticket in doubt"
    REQUIREMENT_LOWERED = "requirement lowered"
    STRIP_COLD = "stripping in the cold"


@dataclass(frozen=True, slots=True)
class Hold:
    """A doubt about a whole pour: what, since when, whose, and how to lift it."""

    kind: HoldKind
    since_ms: Ms
    owner: str
    reason: str
    how: str


@dataclass(frozen=True, slots=True)
class Stripped:
    """What taking the forms off now would do to a slab, as it is foreseen. It releases nothing."""

    chance_cold: float
    """That any point is at 1 degC or colder before the bound is 7 MPa, of 0 to 1."""
    coldest_c: float
    """Of any point, in the middle of the members."""
    load_ms: Ms | None
    """When the load is expected then; None: not within what is foreseen."""


class DoubtKind(StrEnum):
    """A doubt about the service itself; while it stands every gate is suspended."""

    CLOCK = "clock"
    STORE = "store"
    LOG = "log"


@dataclass(frozen=True, slots=True)
class Doubt:
    """A doubt about the service itself: since when and why."""

    kind: DoubtKind
    since_ms: Ms
    reason: str


@dataclass(frozen=True, slots=True)
class ClockSpan:
    """A stretch of one boot in which the wall clock and the time since boot ran side by side."""

    boot: str
    from_ms: Ms
    from_boot_ms: int
    """Since boot, suspend included. [ms]"""
    to_ms: Ms
    to_boot_ms: int
    synchronised: bool
    """Whether the host's clock was known to be right at any look of it."""


@dataclass(frozen=True, slots=True)
class Document:
    """A document on file, for a pour, a bay or the whole site."""

    name: str
    reference: str
    by: str
    at_ms: Ms


@dataclass(frozen=True, slots=True)
class TestResult:
    """A test of the concrete itself."""

    __test__ = False

    method: str
    mpa: float
    equivalent_age_h: float | None
    last_third: bool
    position: str | None
    tested_ms: Ms
    by: str


@dataclass(frozen=True, slots=True)
class ByHand:
    """A temperature of the concrete that a person measured with a contact probe."""

    taken_ms: Ms
    milli_c: MilliC
    position: str
    zone: Zone | None
    under_insulation: bool
    by: str


@dataclass(frozen=True, slots=True)
class MixTest:
    """A cylinder with its own temperature record, of whichever pour that is judged by one version of a calibration."""

    pour: PourId
    tested_ms: Ms
    equivalent_age_h: float
    mpa: float


@dataclass(frozen=True, slots=True)
class RequirementEdit:
    """A requirement that the engineer wrote on the site book; the newest for an operation and bay is in force."""

    version: int
    at_ms: Ms
    who: str
    second_person: str
    why: str
    requirement: Requirement


@dataclass(frozen=True, slots=True)
class Beside:
    """A pour in a bay beside this one."""

    pour: PourId
    bay: BayId
    start_ms: Ms
    end_ms: Ms | None


@dataclass(frozen=True, slots=True)
class Verdict:
    """One operation's requirement held against the evidence."""

    operation: Operation
    missing: tuple[str, ...]
    """What a person must still supply; not empty: "not set up"."""
    met: bool
    findings: tuple[Finding, ...]

    def failed(self, *, lasting_only: bool = False) -> tuple[Finding, ...]:
        """Return the findings that are not met."""
        return tuple(f for f in self.findings if not f.met and (f.lasting or not lasting_only))


@dataclass(frozen=True, slots=True)
class PourState:
    """What cure keeps of a pour between rounds; it can always be made again from the stores."""

    as_of_ms: Ms = 0
    input_revision: int = -1
    next_due_ms: Ms = 0
    code: str = ""
    estimate: Estimate | None = None
    verdicts: tuple[Verdict, ...] = ()
    memory: Mapping[str, Json] = field(default_factory=dict)
    """Small things already told: silent sensors, delays, overlong gaps. JSON."""


@dataclass(frozen=True, slots=True)
class LogEntry:
    """A line of the site's log: what changed, by whom, why."""

    at_ms: Ms
    who: str
    what: str
    """"gate" | "hold" | "act" | "message" | "delivery" | "setup" | "doubt" | "retention" | "person"."""
    body: Mapping[str, Json]
