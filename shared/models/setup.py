"""What a site sets up once, in `site.toml`. Fields, units and limits: README, "Settings"."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from shared.models.base import BayId, RecipientId, Record, SensorId, SiteId

Id = Annotated[str, StringConstraints(pattern=r"^[a-z0-9-]{1,32}$")]
SensorIdText = Annotated[str, StringConstraints(pattern=r"^[a-z0-9-]{1,32}\.[0-9]{1,2}$")]
Shift = Annotated[str, StringConstraints(pattern=r"^([01]\d|2[0-3]):[0-5]\d-([01]\d|2[0-3]):[0-5]\d$")]
Line = Annotated[str, StringConstraints(min_length=1, max_length=200, pattern=r"^[^\r\n]*$")]


class Zone(StrEnum):
    """Where in a bay a sensor sits; `exposed edge` means within 150 mm of it."""

    EXPOSED_EDGE = "exposed edge"
    LAST_PLACED_END = "last-placed end"
    INTERIOR = "interior"
    TOP = "top"
    AT_STEEL = "at steel"
    AIR = "air"
    AIR_BELOW = "air below"


class Role(StrEnum):
    """What a person may do. Admin manages people and cannot sign."""

    VIEWER = "viewer"
    CREW = "crew"
    SUPERINTENDENT = "superintendent"
    QC = "qc"
    ENGINEER = "engineer"
    INSTALLER = "installer"
    ADMIN = "admin"


class SiteSettings(Record):
    """[site]"""

    id: Id
    name: Line
    zone: Line
    """IANA time zone."""
    units: Literal["SI", "US"] = "SI"
    clock_sync: Literal["required", "not-checked"]
    interval_s: Annotated[int, Field(ge=60, le=3600)] = 900
    shift: Shift = "06:30-17:00"
    data: Line = "var"
    """Data folder, relative to the site file."""

    @property
    def site_id(self) -> SiteId:
        """The id as its own type."""
        return SiteId(self.id)


class PlanSettings(Record):
    """[plan]: without `adopted_by` and `document` every gate is "not set up"."""

    use: Literal["common-practice", "clock-or-strength", "strict"]
    adopted_by: Line | None = None
    document: Line | None = None
    consent_document: Line | None = None
    """Engineer's written consent that `clock-or-strength` asks for."""
    sign_offs: Literal[0, 1, 2]
    """Must be written; there is no default for who answers."""


class StoreSettings(Record):
    """One of the two stores."""

    kind: Literal["sqlite"] = "sqlite"


class StoresSettings(Record):
    """[stores]"""

    readings: StoreSettings = StoreSettings()
    book: StoreSettings = StoreSettings()


class BrokerSettings(Record):
    """[broker]"""

    kind: Literal["embedded", "url"] = "embedded"
    port: Annotated[int, Field(ge=1, le=65535)] = 1883
    """Of the embedded broker, on 127.0.0.1."""
    url: Annotated[str, StringConstraints(pattern=r"^mqtts?://[^/\s:]+(:\d{1,5})?$")] | None = None
    user: Line | None = None
    password_file: Line | None = None
    ca_file: Line | None = None


class MixSettings(Record):
    """[[mix]]"""

    id: Id
    supplementary: bool
    """Fly ash, slag or unknown binder: k is 0.7 instead of 0.8 until 48 equivalent hours."""
    retarded: bool = False
    """Setting time spread is 2 h instead of 1 h."""
    calibration: Line | None = None
    """Calibration file, relative to the site file; none: every gate of its pours is "not set up"."""


class SensorSettings(Record):
    """One line of a bay's `sensors`."""

    id: SensorIdText
    zone: Zone
    depth_mm: Annotated[int, Field(ge=0, le=2000)] | None = None
    interval_s: Annotated[int, Field(ge=60, le=3600)] | None = None
    required: bool = True
    """A required zone sensor must be alive for anything to be released. Air sensors never are."""

    @property
    def sensor_id(self) -> SensorId:
        """The id as its own type."""
        return SensorId(self.id)


class BaySettings(Record):
    """[[bay]]"""

    id: Id
    floor: Line
    mix: Id
    thickness_mm: Annotated[int, Field(ge=30, le=1500)]
    joist_spacing_mm: Annotated[int, Field(ge=100, le=10_000)]
    neighbours: tuple[Id, ...] = ()
    below: tuple[Id, ...] = ()
    """Bays whose strip happens under this one's feet."""
    exclusions: Line
    """Where no release holds, printed with every release; "none" must be said."""
    construction_load_kpa: Annotated[float, Field(gt=0, le=20)] | None = None
    normal_weight: bool = True
    mesh_continuous: bool = True
    cantilever: bool = False
    sensors: Annotated[tuple[SensorSettings, ...], Field(min_length=1)]

    @property
    def bay_id(self) -> BayId:
        """The id as its own type."""
        return BayId(self.id)


class EmailAddress(Record):
    """A recipient's e-mail."""

    kind: Literal["email"]
    to: Annotated[str, StringConstraints(pattern=r"^[^@\s]+@[^@\s]+$", max_length=254)]


class InboxFile(Record):
    """A file of JSON lines in the data folder: what the demo shows, and a way to read messages without a server."""

    kind: Literal["inbox"]
    file: Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_-][A-Za-z0-9._-]{0,63}$")] = "inbox.jsonl"


class WebhookUrl(Record):
    """A signed HTTP POST."""

    kind: Literal["webhook"]
    url: Annotated[str, StringConstraints(pattern=r"^https?://[^\s]+$", max_length=500)]
    secret_file: Line


Address = Annotated[EmailAddress | InboxFile | WebhookUrl, Field(discriminator="kind")]


class RecipientSettings(Record):
    """[[recipient]]: a person who acts, is told, or both."""

    id: Id
    role: Role
    language: Literal["en"] = "en"
    shift: Shift | None = None
    channels: tuple[Address, ...] = ()

    @property
    def recipient_id(self) -> RecipientId:
        """The id as its own type."""
        return RecipientId(self.id)


class EmailServer(Record):
    """[channel.email]"""

    host: Line
    port: Annotated[int, Field(ge=1, le=65535)] = 25
    sender: Annotated[str, StringConstraints(pattern=r"^[^@\s]+@[^@\s]+$", max_length=254)]
    security: Literal["none", "starttls", "tls"] = "none"
    user: Line | None = None
    password_file: Line | None = None
    deadline_s: Annotated[int, Field(ge=2, le=120)] = 20


class ChannelsSettings(Record):
    """[channel]"""

    email: EmailServer | None = None


class SiteFile(Record):
    """A whole, valid `site.toml`. Made by `shared.sitefile.load`, which also checks what one field cannot."""

    site: SiteSettings
    plan: PlanSettings
    stores: StoresSettings = StoresSettings()
    broker: BrokerSettings = BrokerSettings()
    mix: Annotated[tuple[MixSettings, ...], Field(min_length=1)]
    bay: Annotated[tuple[BaySettings, ...], Field(min_length=1)]
    recipient: Annotated[tuple[RecipientSettings, ...], Field(min_length=1)]
    channel: ChannelsSettings = ChannelsSettings()

    def bay_named(self, bay: BayId) -> BaySettings:
        """Return the bay; `KeyError` when the site has none of that name."""
        return {b.bay_id: b for b in self.bay}[bay]

    def mix_named(self, mix: str) -> MixSettings:
        """Return the mix; `KeyError` when the site has none of that name."""
        return {m.id: m for m in self.mix}[mix]

    def person(self, who: str) -> RecipientSettings | None:
        """Return the recipient of that id, if any."""
        return next((r for r in self.recipient if r.id == who), None)


class CurveParameters(Record):
    """Three-parameter exponential: S = Su exp(-(tau/te)^beta)."""

    su_mpa: Annotated[float, Field(gt=0, le=200)]
    tau_h: Annotated[float, Field(gt=0, le=1000)]
    beta: Annotated[float, Field(gt=0, le=5)]


class Calibration(Record):
    """The strength-maturity relationship of one mix: a TOML file beside the site file."""

    mix: Id
    version: Annotated[int, Field(ge=1)]
    made_on: Line
    curve: Literal["exponential"]
    parameters: CurveParameters
    covariance: tuple[tuple[float, float, float], tuple[float, float, float], tuple[float, float, float]]
    """Of (su_mpa, tau_h, beta), from the fit."""
    degrees_of_freedom: Annotated[int, Field(ge=1)]
    tested_from_h: Annotated[float, Field(gt=0)]
    """Lowest tested equivalent age: below it nothing is released."""
    tested_to_h: Annotated[float, Field(gt=0)]
    """Highest tested equivalent age: above it strength is held at its value there."""
    activation_energy_kj_per_mol: Annotated[float, Field(ge=20, le=80)] | None = None
    """Tested for this mix; none: the shipped default law with its wider spread."""
    activation_energy_sd_kj_per_mol: Annotated[float, Field(gt=0, le=20)] | None = None


@dataclass(frozen=True, slots=True)
class Setup:
    """A site file with the calibrations that it names."""

    site: SiteFile
    calibrations: Mapping[str, Calibration]
    """By mix id; a mix without a calibration is absent."""
    folder: str
    """Folder of the site file: relative paths in it start here."""
