"""What people do, one closed union: command line, control socket, replay and (later) pages hand in the same values."""

from __future__ import annotations

from datetime import UTC, datetime, tzinfo
from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, Field, StringConstraints, TypeAdapter

from shared.models.base import Record
from shared.models.decisions import HoldKind
from shared.models.setup import Id, Line

OperationName = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z -]{0,31}$")]
PourName = Annotated[str, StringConstraints(pattern=r"^[a-z0-9-]{1,48}$")]


class ActBase(Record):
    """Who, and when it was handed in."""

    at: AwareDatetime
    who: Id
    scripted: bool = False
    """Played by the demo, not by a person; shown as such."""

    @property
    def at_ms(self) -> int:
        """`at` as milliseconds since 1970 UTC."""
        return ms(self.at)


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


class Confirm(ActBase):
    """A person answers a message: "area clear"."""

    kind: Literal["confirm"] = "confirm"
    message: Annotated[int, Field(ge=1)]


PourAct = PourStart | PourEnd | Sign | UnderWay | Done | Stop | FormsOff | Lift | Reopen
Act = PourAct | Confirm
_ADAPTER: TypeAdapter[Act] = TypeAdapter(Annotated[Act, Field(discriminator="kind")])


def ms(at: datetime) -> int:
    """Return an aware instant as whole milliseconds since 1970 UTC."""
    return round(at.timestamp() * 1000)


def instant(at_ms: int, place: tzinfo = UTC) -> datetime:
    """Return milliseconds since 1970 UTC as an aware instant; `ms` leads back."""
    return datetime.fromtimestamp(at_ms / 1000, UTC).astimezone(place)


def act_from(data: object) -> Act:
    """Return the act in a JSON object. Raises `pydantic.ValidationError`."""
    return _ADAPTER.validate_python(data)


def act_to(act: Act) -> dict[str, Any]:
    """Return the act as a JSON object; `act_from` reads it back."""
    return act.model_dump(mode="json", exclude_none=True)
