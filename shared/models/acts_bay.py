"""What people do at a bay beside pouring it: covers, heating, the tickets of its trucks, form sets."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AwareDatetime, Field, StringConstraints

from shared.models.act_base import ActBase
from shared.models.base import Id, Line, PourName

PhotoDigest = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Litres = Annotated[float, Field(ge=0, le=5000)]
Percent = Annotated[float, Field(ge=0, le=30)]


class Cover(ActBase):
    """A cover is laid on, or taken off."""

    kind: Literal["cover"] = "cover"
    pour: PourName
    on: bool
    happened: AwareDatetime | None = None
    """When, if it was earlier than `at`. Hours without readings before `at` count as bare all the same."""


class Heat(ActBase):
    """The space below is heated from now on, or not any more. Only what is foreseen goes by it, and the hold
    of stripping in the cold that comes of that.
    """

    kind: Literal["heat"] = "heat"
    pour: PourName
    on: bool
    below_c: Annotated[float, Field(ge=0, le=40)] | None = None
    """What the space below is kept at, degC; None: nobody knows, and the forecast takes none of it."""
    happened: AwareDatetime | None = None
    """When, if it was earlier than `at`."""


class Ticket(ActBase):
    """One truck, as its delivery ticket and whoever took it say. What is odd on it is a doubt about the pour.

    The same number again takes the place of what was entered before.
    """

    kind: Literal["ticket"] = "ticket"
    pour: PourName
    number: Line
    mix: Id
    """As printed."""
    batched: AwareDatetime
    """When the water met the cement, as printed."""
    placed: AwareDatetime | None = None
    """When the last of it was placed; None: `at`."""
    place: Line | None = None
    """Where in the bay, in words."""
    dose_class: Line | None = None
    """Dose of accelerator or retarder, as the calibration names it."""
    water_l: Litres | None = None
    """Added after batching, litres in the truck."""
    withheld_l: Litres | None = None
    """Held back at the plant, as printed: so much may be added. None: nothing."""
    air_percent: Percent | None = None
    """Measured."""
    air_wanted_percent: Percent | None = None
    """As printed."""
    temperature_c: Annotated[float, Field(ge=-10, le=60)] | None = None
    """Of the concrete as delivered, degC."""
    photo: PhotoDigest | None = None
    """SHA-256 of a picture of it, kept beside the site book."""


class MoveSet(ActBase):
    """A form set goes to a bay, or is laid aside. The first move makes it known."""

    kind: Literal["form_set"] = "form_set"
    form_set: Id
    bay: Id | None = None
    """None: it lies aside, ready."""
    waits: Id | None = None
    """The bay whose pour waits for it next."""
    gone: bool = False
    """It is not on this site any more, or was entered by mistake."""
    happened: AwareDatetime | None = None
    """When, if it was earlier than `at`."""
