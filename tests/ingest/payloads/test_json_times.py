from __future__ import annotations

from datetime import UTC, datetime
from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.payloads.json_times import reader
from shared.models.base import HOUR_MS, Json
from shared.models.payloads import JsonTopic

NOW: Final = 1_795_510_800_000
"""2026-11-24T09:00Z."""


def read(found: Json, form: str, offset: str | None = None, resolution_ms: int = 1) -> int | None:
    topic = JsonTopic(
        filter="a/{logger}/{channel}", format="json", value="v", unit="degC", time="t", time_format=form,
        time_of="measuring", utc_offset=offset, resolution_ms=resolution_ms,
    )  # fmt: skip
    return reader(topic)(found)


GERMAN: Final = "%d.%m.%Y %H:%M:%S"


@pytest.mark.parametrize(
    ("found", "form", "offset", "ms"),
    [
        (1795510800.0, "s", None, NOW),
        (1795510800.25, "s", None, NOW + 250),
        (1795510800000.0, "ms", None, NOW),
        ("2026-11-24T09:00:00Z", "iso", None, NOW),
        ("2026-11-24T09:00:00.775023242+00:00", "iso", None, NOW + 775),
        ("2026-11-24 05:00:00-04:00", "iso", None, NOW),
        ("2026-11-24T05:00-0400", "iso", None, NOW),
        ("2026-11-24T05:00:00", "iso", "-04:00", NOW),
        # What the text itself says holds.
        ("2026-11-24T09:00:00Z", "iso", "-04:00", NOW),
        ("24.11.2026 05:00:00", GERMAN, "-04:00", NOW),
        ("24.11.2026 14:30:00", GERMAN, "+05:30", NOW),
        ("2026-328 09:00", "%Y-%j %H:%M", "+00:00", NOW),
        ("20261124090000+0000", "%Y%m%d%H%M%S%z", None, NOW),
    ],
)
def test_a_time_is_read_by_the_form_that_the_site_file_names(
    found: Json, form: str, offset: str | None, ms: int
) -> None:
    assert read(found, form, offset) == ms


@pytest.mark.row("C4", "C5")
@pytest.mark.parametrize(
    ("found", "form", "offset"),
    [
        (None, "s", None),
        ("1795510800", "s", None),
        (True, "s", None),
        (float("nan"), "s", None),
        (float("inf"), "ms", None),
        (1e300, "s", None),
        (1795510800.0, "iso", None),
        ("2026-11-24T09:00:00", "iso", None),
        ("2026-11-24", "iso", "-04:00"),
        ("20261124T090000Z", "iso", None),
        ("2026-W48-2T09:00Z", "iso", None),
        ("2026-11-24T09:00:60Z", "iso", None),
        ("2026-02-30T09:00:00Z", "iso", None),
        ("2026-11-24T09:00:00Z ", "iso", None),
        ("2026-11-24T09:00:00+99:99", "iso", None),
        ("\u0662026-11-24T09:00:00Z", "iso", None),
        ("24.11.26 05:00:00", GERMAN, "-04:00"),
        ("11.24.2026 05:00:00", GERMAN, "-04:00"),
        ("24.11.2026 05:00:00 more", GERMAN, "-04:00"),
        ("", GERMAN, "-04:00"),
    ],
)
def test_what_is_not_of_that_form_is_no_time_and_nothing_is_guessed(found: Json, form: str, offset: str | None) -> None:
    assert read(found, form, offset) is None


@pytest.mark.row("C4")
def test_a_fixed_offset_knows_no_hour_twice_in_the_night_of_the_clock_change() -> None:
    # In Halifax 2026-11-01T01:30 comes twice by the wall, once by a logger that stays at -03:00.
    before, after = read("2026-11-01T01:30:00", "iso", "-03:00"), read("2026-11-01T02:30:00", "iso", "-03:00")
    assert before is not None
    assert after == before + HOUR_MS


def test_two_copies_of_a_message_with_times_of_different_digits_have_one_hour() -> None:
    assert read(1795510800.9, "s", None, 1000) == read("2026-11-24T09:00:00.123Z", "iso", None, 1000) == NOW


@given(st.datetimes(datetime(1980, 1, 1), datetime(2100, 1, 1)), st.integers(1, 60_000))  # noqa: DTZ001
def test_the_resolution_makes_a_time_earlier_never_later(when: datetime, resolution_ms: int) -> None:
    exact = read(when.replace(tzinfo=UTC).isoformat(), "iso")
    found = read(when.replace(tzinfo=UTC).isoformat(), "iso", None, resolution_ms)
    assert exact is not None
    assert found is not None
    assert exact - resolution_ms < found <= exact


@given(st.text(max_size=30) | st.floats() | st.booleans() | st.none(), st.sampled_from(["s", "ms", "iso", GERMAN]))
def test_anything_is_a_time_or_none(found: Json, form: str) -> None:
    ms = read(found, form, "+01:00" if form == GERMAN else None)
    assert ms is None or abs(ms) < 10**15
