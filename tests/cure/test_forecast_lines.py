"""What `slabhour forecast list` says of open pours."""

from __future__ import annotations

from typing import Any

from days_support import shown_row

from cure.forecast_lines import newest_json, newest_lines, told_of
from shared.models.base import HOUR_MS, STRIP, MixId, PourId
from shared.models.forecasts import KeptForecast

POUR = PourId("2-b1-p1")
KEPT = KeptForecast(POUR, STRIP, MixId("m"), 0, 0, 120 * HOUR_MS, 20 * HOUR_MS, 24 * HOUR_MS, None, 1.0, ())
WHY = {"wanted_ms": 30 * HOUR_MS, "wanted_chance": 0.62, "waits_for": {"strength": 0.9, "clock hours": 0.1}}
HOURS: dict[str, Any] = {STRIP: {**WHY, "spread": {"weather": 0.5, "mix": 0.001}}}


def told(none: str = "", hours: dict[str, Any] | None = None) -> Any:
    memory: dict[str, Any] = {"forecast": {"hours": hours or {}, "notes": ["late"], "none": none}}
    return told_of([shown_row(memory=memory), shown_row("2-b2-p1")])


def test_an_hour_is_told_with_its_chance_what_it_waits_for_and_what_makes_it_wide() -> None:
    first, waits, wanted, note = newest_lines([KEPT], told(hours=HOURS), "America/Halifax")
    assert first.startswith("2-b1-p1 strip: expected Thu 01 Jan 20:00")
    assert first.endswith("to not within 5 days), made Wed 31 Dec 20:00 UTC-0400")
    assert waits == "  waits last for strength 90 %, clock hours 10 %; its width: weather 50 %"
    assert wanted == "  by Fri 02 Jan 02:00 UTC-0400, as wanted: 62 %"
    assert note == "2-b1-p1: late"
    (of,) = newest_json([KEPT], told(hours=HOURS))["forecasts"]
    assert (of["wanted_chance"], of["spread"]["weather"], of["low_ms"]) == (0.62, 0.5, 20 * HOUR_MS)


def test_what_stands_no_more_is_not_told_but_why() -> None:
    said = newest_lines([KEPT], told(none="the logger is silent"), "America/Halifax")
    assert said[0] == "2-b1-p1: nothing is foreseen: the logger is silent"
    assert not any("expected" in line for line in said)
    assert newest_json([KEPT], told(none="silent"))["pours"] == {POUR: {"none": "silent", "notes": ["late"]}}
    # A pour of which the last round kept nothing: its hours alone.
    assert len(newest_lines([KEPT], {}, "America/Halifax")) == 1
