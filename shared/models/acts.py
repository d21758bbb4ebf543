"""What people do, one closed union: command line, control socket, replay and (later) pages hand in the same values."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, Field, TypeAdapter

from shared.models.act_base import ActBase, instant, ms
from shared.models.acts_bay import Cover, Heat, MoveSet, Ticket
from shared.models.acts_loggers import HandReading, PlaceSensor, RemoveSensor
from shared.models.acts_mixes import PutInForce
from shared.models.acts_shift import TakeOver
from shared.models.acts_tokens import EndToken, MakeToken
from shared.models.base import Id, Line, OperationName, PourName, SensorIdText
from shared.models.decisions import DoubtKind, HoldKind
from shared.models.requirement import Requirement

__all__ = [
    "ActBase",
    "Cover",
    "EndToken",
    "HandReading",
    "Heat",
    "MakeToken",
    "MoveSet",
    "PlaceSensor",
    "PutInForce",
    "RemoveSensor",
    "TakeOver",
    "Ticket",
    "instant",
    "ms",
]


class PourStart(ActBase):
    """The first concrete of a new pour is placed in a bay."""

    kind: Literal["pour_start"] = "pour_start"
    bay: Id
    pour: PourName
    happened: AwareDatetime | None = None
    """When, if it was earlier than `at`."""


class PourEnd(ActBase):
    """The last concrete is placed. Again, with a later hour: the end is moved later."""

    kind: Literal["pour_end"] = "pour_end"
    pour: PourName
    happened: AwareDatetime | None = None
    second_person: Id | None = None
    """An end moved earlier needs one."""
    why: Line | None = None


class TakeBack(ActBase):
    """The start of a pour was a mistake and is taken back; the pour of that bay that it had ended goes on."""

    kind: Literal["take_back"] = "take_back"
    pour: PourName
    """The one that was started."""
    why: Line


class Sign(ActBase):
    """A person signs met requirements of a pour. Binds the evidence at the press."""

    kind: Literal["sign"] = "sign"
    pour: PourName
    operations: Annotated[tuple[OperationName, ...], Field(min_length=1)]


class UnderWay(ActBase):
    """The crew has begun."""

    kind: Literal["under_way"] = "under_way"
    pour: PourName
    operation: OperationName


class Done(ActBase):
    """The operation is finished."""

    kind: Literal["done"] = "done"
    pour: PourName
    operation: OperationName


class Stop(ActBase):
    """Anyone: shuts every gate of the pour. Only ever shuts."""

    kind: Literal["stop"] = "stop"
    pour: PourName
    why: Line


class FormsOff(ActBase):
    """Forms were found off although strip was not released."""

    kind: Literal["forms_off"] = "forms_off"
    pour: PourName


class Lift(ActBase):
    """A person lifts a hold by the act that it names."""

    kind: Literal["lift"] = "lift"
    pour: PourName
    hold: HoldKind
    surface_c: Annotated[float, Field(ge=-40, le=80)] | None = None
    """Measured surface temperature within the hour: lifts "freeze suspected" when above 1 degC."""
    document: Line | None = None
    """The engineer's written disposition: needed after "freeze locked"."""
    why: Line


class Reopen(ActBase):
    """A person opens a withdrawn gate again, after its withdrawal was confirmed, and says the cause."""

    kind: Literal["reopen"] = "reopen"
    pour: PourName
    operation: OperationName
    cause: Line


class SecondCheck(ActBase):
    """A second person has checked a pour, once: ticket, end hour, loggers seen alive, plan."""

    kind: Literal["second_check"] = "second_check"
    pour: PourName
    mix: Id
    """As printed on the delivery ticket."""
    ticket: Line
    end: AwareDatetime
    """The hour of the last concrete, as the second person knows it."""
    loggers_alive: bool
    plan_seen: bool


class ChangeMix(ActBase):
    """Another mix was delivered than was entered: everything is worked out again with that one."""

    kind: Literal["mix"] = "mix"
    pour: PourName
    mix: Id
    second_person: Id
    why: Line


class StrengthTest(ActBase):
    """A test of the concrete itself: a cylinder broken, or a test in the slab."""

    __test__ = False

    kind: Literal["test_result"] = "test_result"
    pour: PourName
    method: Literal["cylinder", "pullout", "penetration", "cast-in-place cylinder"]
    mpa: Annotated[float, Field(ge=0, le=150)]
    equivalent_age_h: Annotated[float, Field(ge=0, le=10_000)] | None = None
    """Of the specimen at the test, by its own temperature record; without it a cylinder counts for nothing."""
    last_third: bool = False
    """Of concrete from the last third of the pour, or a position there."""
    position: Line | None = None
    tested: AwareDatetime | None = None


class Want(ActBase):
    """The hour at which somebody wants an operation: what a delay is told against."""

    kind: Literal["want"] = "want"
    pour: PourName
    operation: OperationName
    wanted: AwareDatetime


class FileDocument(ActBase):
    """A document is on file: for a pour, else for a bay, else for the site."""

    kind: Literal["document"] = "document"
    name: Line
    """What a requirement asks for, word by word."""
    reference: Line
    """Where it lies: number, revision, file."""
    bay: Id | None = None
    pour: PourName | None = None


class Require(ActBase):
    """The engineer writes a requirement, with a second person; open pours are judged by it from then on."""

    kind: Literal["require"] = "require"
    requirement: Requirement
    bay: Id | None = None
    """None: every bay."""
    second_person: Id
    why: Line


class ScreenAgain(ActBase):
    """What was refused is screened again, after a person has mended what was wrong: a placement, a map, a unit."""

    kind: Literal["screen_again"] = "screen_again"
    sensor: SensorIdText | None = None
    """None: of every sensor, and what names none."""
    why: Line


class Resume(ActBase):
    """A person says that a doubt about the service itself is over; the checks must pass too."""

    kind: Literal["resume"] = "resume"
    doubt: DoubtKind
    why: Line


class Confirm(ActBase):
    """A person answers a message: "area clear"."""

    kind: Literal["confirm"] = "confirm"
    message: Annotated[int, Field(ge=1)]
    told: Line | None = None
    """For people who never answer: told by phone, whom, when."""
    answered: Line | None = None
    """In a recording: which message it was, whatever its number is in a replay (`deploy.answers`)."""


class Silence(ActBase):
    """Lesser messages of a bay, or of the site, are not sent for a while; never withdrawals or other urgent ones."""

    kind: Literal["silence"] = "silence"
    bay: Id | None = None
    until: AwareDatetime
    why: Line


class Resend(ActBase):
    """A message is sent once more, as a repeat of itself."""

    kind: Literal["resend"] = "resend"
    message: Annotated[int, Field(ge=1)]
    recipient: Id | None = None
    """None: everybody who had it."""


class TestChannels(ActBase):
    """A test message goes to every channel of a recipient, worded so that nobody takes it for anything else."""

    __test__ = False

    kind: Literal["test_channels"] = "test_channels"
    recipient: Id


PourAct = (
    PourStart
    | TakeBack
    | PourEnd
    | Sign
    | UnderWay
    | Done
    | Stop
    | FormsOff
    | Lift
    | Reopen
    | SecondCheck
    | ChangeMix
    | StrengthTest
    | Want
    | Cover
    | Heat
    | HandReading
    | Ticket
)
SiteAct = FileDocument | MoveSet | PutInForce | Require | Resume | ScreenAgain | TakeOver
"""About the site as a whole; carried out by cure."""
LoggerAct = PlaceSensor | RemoveSensor
"""About where sensors lie; carried out by cure."""
AlertsAct = Confirm | Silence | Resend | TestChannels
TokenAct = MakeToken | EndToken
"""About who comes in besides people."""
Act = PourAct | SiteAct | LoggerAct | AlertsAct | TokenAct
_ADAPTER: TypeAdapter[Act] = TypeAdapter(Annotated[Act, Field(discriminator="kind")])


def act_from(data: object) -> Act:
    """Return the act in a JSON object. Raises `pydantic.ValidationError`."""
    return _ADAPTER.validate_python(data)


def act_to(act: Act) -> dict[str, Any]:
    """Return the act as a JSON object; `act_from` reads it back."""
    return act.model_dump(mode="json", exclude_none=True)
