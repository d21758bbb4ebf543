"""What one field of [weather] cannot know: paths and times that work, a topic that no logger uses."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Final

from shared.models.weather import WEATHER_PATHS
from shared.payload_checks import overlap, times_can_be_read, unreadable
from shared.site_tables import table_of, tables
from shared.toml_model import Doubt, Table, shown


def weather_map_can_be_read(table: Table) -> Iterator[Doubt]:
    """Every path of the map compiles, and its times tell an hour."""
    path = ("weather", "map")
    mapped = table_of(table_of(table, "weather"), "map")
    for field in WEATHER_PATHS:
        if mapped.get(field) is not None and (why := unreadable(mapped[field])) is not None:
            yield Doubt(
                (*path, field), f"{shown(mapped[field])}: {why}", 'a JMESPath expression, such as "hourly.time"'
            )
    if mapped.get("time_format") is not None:
        yield from times_can_be_read(path, mapped)


def weather_topic_is_free(table: Table) -> Iterator[Doubt]:
    """The weather's topic is read by no [[topic]] and is not the service's own."""
    topic = table_of(table, "weather").get("topic")
    if topic is None:
        return
    site = table_of(table, "site").get("id")
    taken = [found["filter"] for _, found in tables(table, "topic") if found.get("filter") is not None]
    own = [] if site is None else [f"slabhour/{site}/canary"]
    default = [f"slabhour/{site}/r/{{logger}}"] if site is not None and not table.get("topic") else []
    if any(overlap(topic, other) for other in (*taken, *own, *default)):
        yield Doubt(("weather", "topic"), shown(topic), "a topic that no [[topic]] and not the service itself uses")


WEATHER_CHECKS: Final[Sequence[Callable[[Table], Iterator[Doubt]]]] = (weather_map_can_be_read, weather_topic_is_free)
