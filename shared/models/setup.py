"""What a site sets up once, in `site.toml`. Fields, units and limits: README, "Settings"."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from shared import units
from shared.models.base import BayId, Id, Line, MilliC, Record, SensorId, SensorIdText, Shift, SiteId
from shared.models.calibration import Calibration
from shared.models.files import ColumnMap
from shared.models.heat import HeatSettings
from shared.models.payloads import TopicSettings
from shared.models.people import ChannelsSettings, RecipientSettings
from shared.models.requirement import Requirement
from shared.models.stores import StoresSettings
from shared.models.weather import NoWeather, WeatherSettings


class Zone(StrEnum):
    """Where in a bay a sensor sits; `exposed edge` means within 150 mm of it."""

    EXPOSED_EDGE = "exposed edge"
    LAST_PLACED_END = "last-placed end"
    INTERIOR = "interior"
    TOP = "top"
    AT_STEEL = "at steel"
    AIR = "air"
    AIR_BELOW = "air below"


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
    duty: tuple[Id, ...] = ()
    """Recipients in the order in which they are told when nobody has answered a withdrawal or a message gave up."""
    covers_m2: Annotated[float, Field(ge=0, le=100_000)] | None = None
    """Stock of insulating covers, for the list of what to cover tonight."""
    morning: Annotated[str, StringConstraints(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")] = "06:15"
    """Hour of the morning list."""
    cover_list: Annotated[str, StringConstraints(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")] = "14:00"
    """Hour of the list of what to cover tonight."""
    data: Line = "var"
    """Data folder, relative to the site file."""
    anchors: Line | None = None
    """Of the log's anchors, relative to the site file; none: in `data`. On another disk it also tells an old copy."""
    keys_file: Line | None = None  # keys of the loggers that must sign their messages; none: none must

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
    also: tuple[Literal["full load", "uncover"], ...] = ()
    """Further operations with shipped requirements."""
    sign_offs: Literal[0, 1, 2]
    """Must be written; there is no default for who answers."""
    second_check: bool = True
    """A second person checks each pour once (ticket, end hour, loggers, plan) before anything of it may be signed."""
    cold_strip: Literal["hold", "tell"] = "hold"  # where frost after the strip is foreseen as likely


class BrokerSettings(Record):
    """[broker]"""

    kind: Literal["embedded", "url"] = "embedded"
    port: Annotated[int, Field(ge=1, le=65535)] = 1883
    """Of the embedded broker."""
    listen: Annotated[str, StringConstraints(pattern=r"^(\d{1,3}\.){3}\d{1,3}$")] | None = None
    """Address of the embedded broker; none: 127.0.0.1, this machine alone. Another wants the three files below."""
    cert_file: Line | None = None
    """Of the embedded broker; of a broker by its url, of the service itself, for one that asks for it."""
    key_file: Line | None = None
    loggers_file: Line | None = None
    """Who may sign in at the embedded broker, a line each: name, blank, password."""
    url: Annotated[str, StringConstraints(pattern=r"^mqtts?://[^/\s:]+(:\d{1,5})?$")] | None = None
    user: Line | None = None
    password_file: Line | None = None
    ca_file: Line | None = None
    verdicts: bool = False
    """Whether displays on site are told each minute what stands, on `slabhour/<site>/verdict/<bay>`."""


class WebSettings(Record):
    """[web]: where pages, and readings that come by HTTP, are served."""

    listen: Annotated[str, StringConstraints(pattern=r"^(\d{1,3}\.){3}\d{1,3}$")] | None = None
    """None: 127.0.0.1, this machine alone. Another wants the two files below."""
    port: Annotated[int, Field(ge=0, le=65535)] = 8080
    """0: one that is free, told at the start."""
    address: Annotated[str, StringConstraints(pattern=r"^https?://[^/\s:@]+(:\d{1,5})?$")] | None = None
    """By which phones reach the pages: labels, links and records bear it; None: the one that a browser used."""
    cert_file: Line | None = None
    key_file: Line | None = None
    loggers_file: Line | None = None
    """Who may send readings, a line each: name, blank, password; none: those of [broker] loggers_file."""


class HeartbeatSettings(Record):
    """[heartbeat]: an outside monitor that raises an alarm when it hears nothing."""

    url_file: Line | None = None
    """File with the URL, which is a secret; none: this service's silence is not watched, and it says so."""
    every_s: Annotated[int, Field(ge=30, le=3600)] = 60


class BackupSettings(Record):
    """[backup]: copies of both stores every hour."""

    folder: Line | None = None
    """Relative to the site file, on another disk if there is one; none: nothing is backed up, and it says so."""
    keep: Annotated[int, Field(ge=1, le=1000)] = 24
    """So many of the newest."""


class RetentionSettings(Record):
    """[retention]: readings that may be forgotten. Without `years` all are kept."""

    years: Annotated[int, Field(ge=10, le=100)] | None = None
    """After a pour is finished. Ten at least: so long claims about a structure are commonly brought."""
    archive: Line | None = None
    """Folder, relative to the site file, into which readings are written as CSV before they are forgotten."""


class LaboratorySettings(Record):
    """[laboratory]: when cylinders can be broken; it judges nothing."""

    open: Shift
    days: Annotated[tuple[Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"], ...], Field(min_length=1)]
    """On which it opens."""


class MixSettings(Record):
    """[[mix]]"""

    id: Id
    supplementary: bool
    """Fly ash, slag or unknown binder: k is 0.7 instead of 0.8 until 48 equivalent hours."""
    retarded: bool = False
    """Setting time spread is 2 h instead of 1 h."""
    specified_mpa: Annotated[float, Field(ge=10, le=150)] | None = None
    """Specified strength, for `full load`."""
    calibration: Line | None = None
    """Calibration file, relative to the site file; none: every gate of its pours is "not set up"."""
    heat: HeatSettings | None = None
    """None: the forecast takes a usual mix, and is wider."""


class SensorTypeSettings(Record):
    """[[sensor_type]]"""

    id: Id
    error_values_c: Annotated[tuple[Annotated[float, Field(ge=-300, le=10_000)], ...], Field(min_length=1)]
    """What sensors of this type say when they have not measured. Never from -2 to 2: that is cold."""


class SensorSettings(Record):
    """One line of a bay's `sensors`."""

    id: SensorIdText
    zone: Zone
    depth_mm: Annotated[int, Field(ge=0, le=2000)] | None = None
    interval_s: Annotated[int, Field(ge=60, le=3600)] | None = None
    required: bool = True
    """A required zone sensor must be alive for anything to be released. Air sensors never are."""
    type: Id | None = None
    """A `[[sensor_type]]`."""

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
    area_m2: Annotated[float, Field(gt=0, le=100_000)] | None = None
    """For the list of what to cover tonight."""
    normal_weight: bool = True
    mesh_continuous: bool = True
    cantilever: bool = False
    sensors: Annotated[tuple[SensorSettings, ...], Field(min_length=1)]

    @property
    def bay_id(self) -> BayId:
        """The id as its own type."""
        return BayId(self.id)


class SiteFile(Record):
    """A whole, valid `site.toml`. Made by `shared.sitefile.load`, which also checks what one field cannot."""

    site: SiteSettings
    plan: PlanSettings
    stores: StoresSettings = StoresSettings()
    broker: BrokerSettings = BrokerSettings()
    topic: tuple[TopicSettings, ...] = ()
    """Which topics are read; none: SenML in JSON on `slabhour/<site>/r/<logger>`."""
    mix: Annotated[tuple[MixSettings, ...], Field(min_length=1)]
    bay: Annotated[tuple[BaySettings, ...], Field(min_length=1)]
    sensor_type: tuple[SensorTypeSettings, ...] = ()
    recipient: Annotated[tuple[RecipientSettings, ...], Field(min_length=1)]
    channel: ChannelsSettings = ChannelsSettings()
    requirement: tuple[Requirement, ...] = ()
    """In place of the plan's for that operation, or for an operation of the site's own."""
    web: WebSettings = WebSettings()
    heartbeat: HeartbeatSettings = HeartbeatSettings()
    backup: BackupSettings = BackupSettings()
    retention: RetentionSettings = RetentionSettings()
    laboratory: LaboratorySettings | None = None
    weather: Annotated[WeatherSettings, Field(discriminator="kind")] = NoWeather()
    incoming: ColumnMap | None = None
    """How files are read that are dropped into the watched folder without a map of their own."""

    def bay_named(self, bay: BayId) -> BaySettings:
        """Return the bay; `KeyError` when the site has none of that name."""
        return {b.bay_id: b for b in self.bay}[bay]

    def mix_named(self, mix: str) -> MixSettings:
        """Return the mix; `KeyError` when the site has none of that name."""
        return {m.id: m for m in self.mix}[mix]

    def error_values_milli_c(self, sensor: SensorId) -> tuple[MilliC, ...]:
        """Return the error values declared for a sensor's type; none for one that has no type, or is not set up."""
        if not self.sensor_type:
            return ()
        declared = {t.id: t.error_values_c for t in self.sensor_type}
        of = next((s.type for bay in self.bay for s in bay.sensors if s.sensor_id == sensor), None)
        return tuple(units.milli_c(c) for c in (declared.get(of, ()) if of is not None else ()))

    def person(self, who: str) -> RecipientSettings | None:
        """Return the recipient of that id, if any."""
        return next((r for r in self.recipient if r.id == who), None)


@dataclass(frozen=True, slots=True)
class Setup:
    """A site file with the calibrations that it names."""

    site: SiteFile
    calibrations: Mapping[str, Calibration]
    """By mix id; a mix without a calibration is absent."""
    folder: str
    """Folder of the site file: relative paths in it start here."""
