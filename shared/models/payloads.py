"""Which topics a site's loggers publish to, and what is in their messages. Fields and limits: README, "[[topic]]"."""

from __future__ import annotations

from typing import Annotated, Final, Literal, TypeAlias

from pydantic import Field, StringConstraints

from shared.models.base import Record, SiteId

TopicFilter = Annotated[
    str,
    StringConstraints(
        max_length=200,
        pattern=r"^([A-Za-z0-9._:-]+|\+|\{logger\}|\{channel\})(/([A-Za-z0-9._:-]+|\+|\{logger\}|\{channel\}))*$",
    ),
]
JsonPath = Annotated[str, StringConstraints(min_length=1, max_length=1000, pattern=r"^[^\r\n]*$")]
"""A JMESPath expression."""
TemperatureUnit: TypeAlias = Literal["degC", "degF"]

SECONDS: Final = "s"
MILLISECONDS: Final = "ms"
ISO_8601: Final = "iso"
"""What `time_format` may be besides a pattern."""


class SenmlTopic(Record):
    """[[topic]] of loggers that speak SenML, RFC 8428."""

    filter: TopicFilter
    format: Literal["senml+json", "senml+cbor"]


class TextTopic(Record):
    """[[topic]] of loggers that publish a bare number on a topic a channel."""

    filter: TopicFilter
    format: Literal["text"]
    unit: TemperatureUnit


class JsonTopic(Record):
    """[[topic]] of loggers with a JSON of their own, read by a map of its fields."""

    filter: TopicFilter
    format: Literal["json"]
    records: JsonPath | None = None
    """The list of records in a message; none: the message is the one record."""
    sensor: JsonPath | None = None
    """The text `logger.channel`, in a record; else the logger comes from the topic and the channel as below."""
    channel: JsonPath | None = None
    """In a record: 0 to 99; else it comes from the topic."""
    value: JsonPath
    unit: TemperatureUnit | None = None
    unit_path: JsonPath | None = None
    time: JsonPath | None = None
    """In a record."""
    message_time: JsonPath | None = None
    """In the message, for all of its records."""
    time_of: Literal["measuring", "receiving"]
    """Must be written: an hour at which somebody on the way received it says less, see `ingest.arrival`."""
    time_format: Annotated[str, StringConstraints(min_length=1, max_length=64, pattern=r"^[^\r\n]*$")]
    utc_offset: Annotated[str, StringConstraints(pattern=r"^[+-](0\d|1[0-4]):[0-5]\d$")] | None = None
    """Of times that do not say it; fixed, so that no hour of a clock change comes twice."""
    resolution_ms: Annotated[int, Field(ge=1, le=60_000)] = 1
    """Times count as the whole multiple before them: two copies of one message then have one hour."""
    sequence: JsonPath | None = None
    boot: JsonPath | None = None
    battery: JsonPath | None = None
    """Percent."""
    signal: JsonPath | None = None
    """dBm."""
    mac: JsonPath | None = None
    """Its signature, see [site] keys_file."""


TopicSettings = Annotated[SenmlTopic | JsonTopic | TextTopic, Field(discriminator="format")]

JSON_PATHS: Final = (
    "records", "sensor", "channel", "value", "unit_path", "time", "message_time", "sequence", "boot", "battery",
    "signal", "mac",
)  # fmt: skip
"""The fields that are JMESPath expressions."""
FACTS: Final = ("sequence", "boot", "battery", "signal", "mac")
"""Those that a logger says of itself: they need to know the logger."""


def default_topic(site: SiteId) -> SenmlTopic:
    """Return the topic of a site that lists none."""
    return SenmlTopic(filter=f"slabhour/{site}/r/{{logger}}", format="senml+json")
