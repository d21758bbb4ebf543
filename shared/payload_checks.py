"""What one field of a [[topic]] cannot know: topics that overlap, who names the sensor, paths and times that work."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from itertools import combinations
from typing import Any, Final

import jmespath
from jmespath import exceptions, functions

from shared.models import payloads
from shared.site_tables import table_of, tables
from shared.toml_lines import Path
from shared.toml_model import Doubt, Table, shown

_WILD: Final = frozenset({"+", "{logger}", "{channel}"})
_DIRECTIVE: Final = re.compile(r"%(.)")
_DIRECTIVES: Final = frozenset("YmdjHMSfz%")
"""Those that mean the same everywhere: no names of months, no years of two digits, no halves of a day."""
MOST_BRACKETS: Final = 100
"""So that no path is nested deeper than can be read wherever it is read again."""
_FUNCTIONS: Final[Mapping[str, Any]] = functions.Functions.FUNCTION_TABLE


def overlap(one: str, other: str) -> bool:
    """Return whether two filters take a topic in common."""
    levels = list(zip(one.split("/"), other.split("/"), strict=False))
    return one.count("/") == other.count("/") and all(a == b or a in _WILD or b in _WILD for a, b in levels)


def topics_do_not_overlap(table: Table) -> Iterator[Doubt]:
    """A topic has one format: a broker that sends a message twice for two filters would make two readings of it."""
    site = table_of(table, "site").get("id")
    listed = [(path, topic["filter"]) for path, topic in tables(table, "topic") if topic.get("filter") is not None]
    taken: set[Path] = set()
    for (_, one), (path, other) in combinations(listed, 2):
        if path not in taken and overlap(one, other):
            taken.add(path)
            yield Doubt((*path, "filter"), shown(other), f"topics that {shown(one)} does not take too")
    for path, other in listed:
        if site is not None and overlap(other, f"slabhour/{site}/canary"):
            yield Doubt((*path, "filter"), shown(other), "another than the service's own test topic")


def topics_name_the_sensor(table: Table) -> Iterator[Doubt]:
    """Each message has one logger, and each of its temperatures one channel."""
    for path, topic in tables(table, "topic"):
        found, kind = topic.get("filter"), topic.get("format")
        if found is None or kind is None:
            continue
        levels = found.split("/")
        loggers, channels = levels.count("{logger}"), levels.count("{channel}")
        if loggers > 1 or channels > 1:
            yield Doubt((*path, "filter"), shown(found), "{logger} and {channel} once each")
        elif kind == "json":
            yield from _map_names_the_sensor(path, topic, loggers == 1, channels == 1)
        elif not loggers:
            yield Doubt((*path, "filter"), shown(found), 'a level {logger}, such as "shed/{logger}/..."')
        elif (kind == "text") != (channels == 1):
            wanted = "a level {channel}: a bare number names none" if kind == "text" else "no {channel}: SenML names it"
            yield Doubt((*path, "filter"), shown(found), wanted)


def _map_names_the_sensor(path: Path, topic: Table, logger: bool, channel: bool) -> Iterator[Doubt]:
    if "sensor" in topic:
        if "channel" in topic or channel:
            yield Doubt((*path, "sensor"), shown(topic["sensor"]), "nothing, since the channel is named besides")
    elif not logger:
        yield Doubt((*path, "filter"), shown(topic["filter"]), "a level {logger}, or the field sensor")
    elif ("channel" in topic) == channel:
        found = shown(topic.get("channel"))
        yield Doubt((*path, "channel"), found, "a path, or a level {channel} in filter: one of the two")
    for field in payloads.FACTS:
        if field in topic and not logger:
            yield Doubt((*path, field), shown(topic[field]), "nothing, unless filter has a level {logger}")


def maps_are_whole(table: Table) -> Iterator[Doubt]:
    """Unit and time of a temperature are said in one way each."""
    for path, topic in tables(table, "topic"):
        if topic.get("format") != "json":
            continue
        for one, other in (("unit", "unit_path"), ("time", "message_time")):
            if (one in topic) == (other in topic):
                found = "both" if one in topic else "nothing"
                yield Doubt((*path, one), found, f"a value of {one} or of {other}: one of the two")
        if topic.get("time_format") is not None:
            yield from times_can_be_read(path, topic)


def times_can_be_read(path: Path, topic: Table) -> Iterator[Doubt]:
    """The times of a map tell an hour, and its offset is said once."""
    pattern = topic["time_format"]
    if pattern in {payloads.SECONDS, payloads.MILLISECONDS}:
        if "utc_offset" in topic:
            yield Doubt((*path, "utc_offset"), shown(topic["utc_offset"]), "nothing: such a time counts from 1970 UTC")
        return
    if pattern == payloads.ISO_8601:
        return
    if (why := _unfit(pattern)) is not None:
        allowed = '"s", "ms", "iso", or a pattern such as "%d.%m.%Y %H:%M:%S"'
        yield Doubt((*path, "time_format"), f"{shown(pattern)}: {why}", allowed)
    elif ("%z" in pattern) == ("utc_offset" in topic):
        yield Doubt((*path, "utc_offset"), shown(topic.get("utc_offset")), "the offset, or %z in time_format: one")


def _unfit(pattern: str) -> str | None:
    """Return why a pattern of `strptime` does not tell an hour, or None."""
    found = _DIRECTIVE.findall(pattern)
    if set(found) - _DIRECTIVES or pattern.replace("%%", "").endswith("%"):
        return "only %Y %m %d %j %H %M %S %f %z"
    if not {"Y", "H", "M"} <= set(found) or not ({"m", "d"} <= set(found) or "j" in found):
        return "needs year, day, hour and minute"
    if len(set(found)) != len(found):
        return "says something twice"
    try:
        datetime.strptime(datetime(2026, 11, 24, 9, tzinfo=UTC).strftime(pattern), pattern).replace(tzinfo=UTC)
    except (ValueError, re.error):
        return "cannot be read back"
    return None


def paths_can_be_read(table: Table) -> Iterator[Doubt]:
    """Every JMESPath expression compiles, and calls only functions that there are, with as many values as they take."""
    for path, topic in tables(table, "topic"):
        for field in payloads.JSON_PATHS:
            if topic.get("format") == "json" and topic.get(field) is not None:
                why = unreadable(topic[field])
                if why is not None:
                    allowed = 'a JMESPath expression, such as "data.temperature"'
                    yield Doubt((*path, field), f"{shown(topic[field])}: {why}", allowed)


def unreadable(expression: str) -> str | None:
    """Return why a JMESPath expression cannot be used, or None."""
    if sum(map(expression.count, "([{")) > MOST_BRACKETS:
        return f"more than {MOST_BRACKETS} brackets"
    try:
        compiled = jmespath.compile(expression)
        return _wrong_call(compiled.parsed)
    except exceptions.LexerError as error:
        return f"character {error.lex_position + 1} cannot be read"
    except exceptions.IncompleteExpressionError:
        return "it ends too soon"
    except exceptions.ParseError as error:
        return f"character {error.lex_position + 1} cannot stand there"
    except (exceptions.JMESPathError, ValueError):
        return "it cannot be read"


def _wrong_call(node: Mapping[str, Any]) -> str | None:
    children = node.get("children", ())
    if node["type"] == "function_expression":
        name, signature = node["value"], _FUNCTIONS.get(node["value"], {}).get("signature")
        if signature is None:
            return f"there is no function {name}"
        variadic = bool(signature) and bool(signature[-1].get("variadic"))
        if len(children) != len(signature) and not (variadic and len(children) > len(signature)):
            return f"{name} takes {len(signature)} value(s)"
    # The children of a slice are numbers.
    inner = [child for child in children if isinstance(child, dict)]
    return next((why for child in inner if (why := _wrong_call(child)) is not None), None)


PAYLOAD_CHECKS: Final[Sequence[Callable[[Table], Iterator[Doubt]]]] = (
    topics_do_not_overlap,
    topics_name_the_sensor,
    maps_are_whole,
    paths_can_be_read,
)
