"""Part of a site's topics: several processes listen side by side, each to its own.

Split by topic, so that each sensor is one process's, in order. Shared subscriptions would spread messages by
themselves, but lose or strand those of a process that ends.
"""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256

from paho.mqtt.client import topic_matches_sub

from ingest.message import Incoming
from ingest.sheet import Taken
from ingest.weather_topic import Takes
from shared.errors import SlabError


class Part:
    """Takes what comes on some topics."""

    def __init__(self, whole: Takes, filters: Sequence[tuple[str, int]]) -> None:
        self._whole, self._filters = whole, tuple(filters)

    def subscriptions(self) -> Sequence[tuple[str, int]]:
        return self._filters

    def incoming(self, topic: str, payload: bytes, *, may_have_waited: bool = False) -> Incoming:
        return self._whole.incoming(topic, payload, may_have_waited=may_have_waited)

    def take(self, batch: Sequence[Incoming]) -> Sequence[Taken]:
        return self._whole.take(batch)


def part_of(whole: Takes, filters: Sequence[str]) -> Part:
    """Return the part of some filters, each no wider than one of the whole. Raises `SlabError` for others."""
    covers = whole.subscriptions()
    found = []
    for name in filters:
        qos = [qos for wide, qos in covers if name == wide or _covers(wide, name)]
        if not qos:
            raise SlabError(f"no topic of the site file covers {name}: it has {', '.join(wide for wide, _ in covers)}")
        found.append((name, qos[0]))
    return Part(whole, found)


def without(whole: Takes, filters: Sequence[str]) -> Part:
    """Return what is left when others listen to some filters."""
    return Part(whole, [one for one in whole.subscriptions() if one[0] not in filters])


def _covers(wide: str, name: str) -> bool:
    # Taken for a topic, a filter is matched by every wider one; "+" would match "#" too, which is wider.
    return ("#" in wide or "#" not in name) and topic_matches_sub(wide, name)


def name_of(part: Takes) -> str:
    """Return what a listener to these topics is called: the same at every start, and another for other topics."""
    topics = "\n".join(sorted(name for name, _ in part.subscriptions()))
    return f"ingest-{sha256(topics.encode()).hexdigest()[:8]}"
