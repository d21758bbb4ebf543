"""What one field of a column map cannot know."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import get_close_matches

from shared.site_tables import table_of
from shared.toml_model import Doubt, Table, shown
from shared.zones import place_of, zones


def map_doubts(table: Table, path: tuple[str, ...] = ()) -> Iterator[Doubt]:
    """Yield what is wrong with a column map whose fields are each right by themselves."""
    long, wide = [table.get(name) is not None for name in ("sensor", "value")], bool(table.get("columns"))
    if (wide and any(long)) or (not wide and not all(long)):
        found = "sensor or value beside columns" if wide else "neither sensor with value, nor columns"
        yield Doubt((*path, "columns"), found, "sensor and value; or columns, one for each sensor")
    yield from _day_apart(table, path)
    zone = table.get("zone")
    if isinstance(zone, str) and place_of(zone) is None:
        near = get_close_matches(zone, sorted(zones()), n=1)
        hint = f'"{near[0]}" (nearest)' if near else '"America/Halifax"'
        yield Doubt((*path, "zone"), shown(zone), f'a fixed offset, such as "-04:00", or an IANA time zone, {hint}')
    yield from _columns_once(table, path)


def _day_apart(table: Table, path: tuple[str, ...]) -> Iterator[Doubt]:
    """A day in a column of its own is another column than the time, and a count of seconds has none."""
    day = table.get("date")
    if day is not None and (day == table.get("time") or table.get("time_format") == "unix"):
        yield Doubt((*path, "date"), shown(day), "another column than time; nothing with seconds since 1970")


def _columns_once(table: Table, path: tuple[str, ...]) -> Iterator[Doubt]:
    """Two columns of one sensor would be two values of each hour."""
    for field, what in (("name", "column"), ("id", "sensor")):
        seen = set()
        for index, column in enumerate(table.get("columns") or ()):
            named = column.get(field) if isinstance(column, dict) else None
            if named is not None and named in seen:
                yield Doubt((*path, "columns", index, field), f"{shown(named)} again", f"each {what} once")
            seen.add(named)


def incoming_is_whole(table: Table) -> Iterator[Doubt]:
    """The map of files that are dropped without one is whole."""
    if table.get("incoming") is not None:
        yield from map_doubts(table_of(table, "incoming"), ("incoming",))
