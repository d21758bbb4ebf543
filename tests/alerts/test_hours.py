from __future__ import annotations

from dataclasses import replace

import pytest
from wording_support import told

from alerts.wording import words
from shared.models.base import HOUR_MS
from shared.models.messages import MessageKind


@pytest.mark.parametrize(
    ("ms", "shown", "short"),
    [
        # 2026-11-01: 02:00 becomes 01:00; the hour from one to two comes twice.
        (1_793_507_400_000, "Sun 1 Nov 2026 01:30 UTC-03:00", "1 Nov 01:30 UTC-3"),
        (1_793_511_000_000, "Sun 1 Nov 2026 01:30 UTC-04:00", "1 Nov 01:30 UTC-4"),
        # 2026-03-08: 02:00 becomes 03:00.
        (1_772_949_540_000, "Sun 8 Mar 2026 01:59 UTC-04:00", "8 Mar 01:59 UTC-4"),
        (1_772_949_600_000, "Sun 8 Mar 2026 03:00 UTC-03:00", "8 Mar 03:00 UTC-3"),
    ],
)
@pytest.mark.row("C10")
def test_both_nights_of_the_clock_change_show_the_right_offset(ms: int, shown: str, short: str) -> None:
    text = words(told(MessageKind.WITHDRAWAL, "strip", hour_ms=ms), repeat=False)
    assert f"Hour: {shown}" in text.body
    assert short in text.short
    released = replace(told(MessageKind.RELEASED, "strip", hour_ms=ms - HOUR_MS), valid_until_ms=ms)
    assert f"Valid until {shown}" in words(released, repeat=False).body


def test_an_offset_with_minutes_and_a_zone_that_is_not_known_are_shown_as_they_are() -> None:
    assert "UTC-3:30" in words(told(MessageKind.HOLD, "", zone="America/St_Johns"), repeat=False).short
    for zone in ("No/Where", "../etc/passwd", "", None, 7):
        assert "16:00 UTC+00:00" in words(told(MessageKind.HOLD, "", zone=zone), repeat=False).body
