"""Which format a message has: the topic says it, by the filters of the site file. The one way of choosing. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ingest.payloads import FORMATS
from ingest.payloads.decoded import Decoder, Told
from shared.models.base import LoggerId, SiteId
from shared.models.payloads import TopicSettings, default_topic

_LEVELS: Final = {
    "+": r"[^/]*",
    "{logger}": r"(?P<logger>[a-z0-9-]{1,32})",
    "{channel}": r"(?P<channel>[0-9]{1,2})",
}


@dataclass(frozen=True, slots=True)
class Way:
    """How one message is read."""

    told: Told
    decoder: Decoder


@dataclass(frozen=True, slots=True)
class Route:
    """One [[topic]] made ready."""

    topics: re.Pattern[str]
    subscription: str
    """The filter as a broker takes it."""
    qos: int
    decoder: Decoder
    format: str
    """As the site file names it."""

    def told(self, topic: str) -> Told | None:
        """Return what the topic says of the sender; None: the message is not for this route."""
        match = self.topics.fullmatch(topic)
        if match is None:
            return None
        said = match.groupdict()
        logger = said.get("logger")
        return Told(None if logger is None else LoggerId(logger), said.get("channel"))


def routes(site: SiteId, topics: Sequence[TopicSettings]) -> tuple[Route, ...]:
    """Return the routes of a site; of one that lists no topics the default."""
    return tuple(_route(topic) for topic in topics or (default_topic(site),))


def _route(topic: TopicSettings) -> Route:
    levels = topic.filter.split("/")
    found = FORMATS[topic.format]
    return Route(
        topics=re.compile("/".join(_LEVELS.get(level, re.escape(level)) for level in levels)),
        subscription="/".join("+" if level in _LEVELS else level for level in levels),
        # A broker keeps what is sent at QoS 1 for a service that is away. What has no hour of its own must not wait.
        qos=0 if found.untimed else 1,
        decoder=found.make(topic),
        format=topic.format,
    )
