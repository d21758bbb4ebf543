from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from shared.zones import place_of, zones


def test_the_zones_are_those_of_the_tzdata_package() -> None:
    assert {"America/Halifax", "Europe/Berlin", "UTC"} <= zones()


@pytest.mark.parametrize(
    ("zone", "hours"), [("UTC", 0), ("-04:00", -4), ("+05:30", 5.5), ("-00:30", -0.5), ("America/Halifax", -4)]
)
def test_a_zone_is_a_fixed_offset_or_a_place(zone: str, hours: float) -> None:
    place = place_of(zone)
    assert place is not None
    winter = datetime(2026, 1, 15, tzinfo=UTC).astimezone(place)
    assert winter.utcoffset() == timedelta(hours=hours)


@pytest.mark.parametrize(
    "zone", ["", "Z", "-4", "-04", "+24:00", "-04:60", "Atlantis", "../etc/passwd", "AMERICA/HALIFAX"]
)
def test_anything_else_is_no_zone(zone: str) -> None:
    assert place_of(zone) is None
