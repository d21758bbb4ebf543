"""The times of a JSON that is not ours: counts from 1970, ISO 8601, or a pattern. No guessing which."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from typing import Final, Protocol, TypeAlias

from ingest.payloads.meaning import LATEST_S
from shared.models.base import Json, Ms
from shared.models.payloads import ISO_8601, MILLISECONDS, SECONDS

Reader: TypeAlias = Callable[[Json], Ms | None]
"""What a message has in place of a time; None: it is none."""

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_ISO: Final = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}(:[0-9]{2}([.,][0-9]{1,9})?)?(Z|[+-][0-9]{2}:?[0-9]{2})?"
)
"""A date and an hour, in the extended form; nothing that a part would have to be guessed of."""


def _ms(when: datetime, offset: timezone | None) -> Ms | None:
    if when.tzinfo is None:
        if offset is None:
            return None
        when = when.replace(tzinfo=offset)
    return (when - _EPOCH) // timedelta(milliseconds=1)


def _counted(per_s: float) -> Reader:
    def read(found: Json) -> Ms | None:
        number = isinstance(found, int | float) and not isinstance(found, bool)
        if not number or not abs(found) <= LATEST_S * per_s:
            return None
        return math.floor(float(found) * (1000.0 / per_s))

    return read


def _written(pattern: str, offset: timezone | None) -> Reader:
    def read(found: Json) -> Ms | None:
        if not isinstance(found, str) or not found.isascii():
            return None
        try:
            if pattern != ISO_8601:
                return _ms(datetime.strptime(found, pattern), offset)  # noqa: DTZ007  the offset follows
            return _ms(datetime.fromisoformat(found), offset) if _ISO.fullmatch(found) else None
        except (ValueError, OverflowError):
            return None

    return read


def _offset(text: str | None) -> timezone | None:
    if text is None:
        return None
    hours, minutes = text[1:].split(":")
    away = timedelta(hours=int(hours), minutes=int(minutes))
    return timezone(-away if text[0] == "-" else away)


class Times(Protocol):
    """What a site file says of the times of a JSON."""

    @property
    def time_format(self) -> str:
        """Seconds, milliseconds, ISO 8601 or a pattern."""

    @property
    def utc_offset(self) -> str | None:
        """Of times that do not say it."""

    @property
    def resolution_ms(self) -> int:
        """To the whole multiple before them."""


def reader(topic: Times) -> Reader:
    """Return what reads the times of a site file's map, down to its resolution: earlier, never later."""
    if topic.time_format in {SECONDS, MILLISECONDS}:
        read = _counted(1.0 if topic.time_format == SECONDS else 1000.0)
    else:
        read = _written(topic.time_format, _offset(topic.utc_offset))

    def coarse(found: Json) -> Ms | None:
        ms = read(found)
        return None if ms is None else ms // topic.resolution_ms * topic.resolution_ms

    return coarse
