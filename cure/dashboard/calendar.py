"""The calendar feed (RFC 5545): when operations are expected, never when they were released. Pure.

A calendar keeps what it read for hours, so no entry of it says that something may be done now.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from typing import Final

from cure.dashboard.board import in_order, is_stopped
from cure.dashboard.expected import expected_ms
from cure.dashboard.reader import Reader
from shared.models.base import HOUR_MS, Ms
from shared.models.setup import SiteFile
from shared.ports import BoardRow

FOLD: Final = 75
"""Bytes of a line (RFC 5545, 3.1)."""


def calendar(rows: Sequence[BoardRow], site: SiteFile, now: Ms, reader: Reader, caution: str, *, doubted: bool) -> str:
    """Return the feed.

    Args:
        rows: open pours.
        site: the set-up in force.
        now: site time.
        reader: whose words it is in.
        caution: stands in every entry.
        doubted: whether the service itself is in doubt; nothing is expected then.
    """
    lines = [
        *("BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//slabhour//calendar//EN", "METHOD:PUBLISH"),
        f"X-WR-CALNAME:{_text(reader.say('calendar-name', site=site.site.name))}",
        *("REFRESH-INTERVAL;VALUE=DURATION:PT15M", "X-PUBLISHED-TTL:PT15M"),
    ]
    for row in rows:
        stopped = is_stopped(row, site, now, doubted=doubted)
        lines += _of_pour(row, site, now, reader, caution, stopped=stopped)
    return "\r\n".join([*map(_folded, lines), "END:VCALENDAR", ""])


def _of_pour(row: BoardRow, site: SiteFile, now: Ms, reader: Reader, caution: str, *, stopped: bool) -> Iterator[str]:
    for operation in in_order(row):
        at_ms = expected_ms(row, operation, now, stopped=stopped)
        if at_ms is None:
            continue
        said = reader.say("calendar-expected", operation=reader.operation(operation), bay=row.pour.bay)
        yield from (
            "BEGIN:VEVENT",
            f"UID:{row.pour.id}.{operation.replace(' ', '-')}@{site.site.id}.slabhour",
            f"DTSTAMP:{_hour(now)}",
            f"DTSTART:{_hour(at_ms)}",
            f"DTEND:{_hour(at_ms + HOUR_MS)}",
            "STATUS:TENTATIVE",
            "TRANSP:TRANSPARENT",
            f"SUMMARY:{_text(said)}",
            f"DESCRIPTION:{_text(reader.say('calendar-ask', hour=reader.whole_hour(now)) + ' ' + caution)}",
            "END:VEVENT",
        )


def _hour(at_ms: Ms) -> str:
    return f"{datetime.fromtimestamp(at_ms // 1000, UTC):%Y%m%dT%H%M%SZ}"


def _text(said: str) -> str:
    """Return text as a property takes it; line ends that are not ours would begin another property."""
    plain = "".join(c if c.isprintable() else " " for c in said.replace("\r\n", "\n").replace("\n", " "))
    return plain.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")


def _folded(line: str) -> str:
    """Return a line of at most 75 bytes each, further ones behind a blank; no character is cut."""
    parts, size = [""], 0
    for c in line:
        wide = len(c.encode())
        if size + wide > FOLD:
            parts.append(" ")
            size = 1
        parts[-1] += c
        size += wide
    return "\r\n".join(parts)
