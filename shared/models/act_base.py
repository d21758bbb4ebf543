"""What every act has, and the hours of acts as numbers."""

from __future__ import annotations

from datetime import UTC, datetime, tzinfo

from pydantic import AwareDatetime

from shared.models.base import Id, Record


class ActBase(Record):
    """Who, and when it was handed in."""

    at: AwareDatetime
    who: Id
    scripted: bool = False
    """Played by the demo, not by a person; shown as such."""

    @property
    def at_ms(self) -> int:
        """`at` as milliseconds since 1970 UTC."""
        return ms(self.at)


def ms(at: datetime) -> int:
    """Return an aware instant as whole milliseconds since 1970 UTC."""
    return round(at.timestamp() * 1000)


def instant(at_ms: int, place: tzinfo = UTC) -> datetime:
    """Return milliseconds since 1970 UTC as an aware instant; `ms` leads back."""
    return datetime.fromtimestamp(at_ms / 1000, UTC).astimezone(place)
