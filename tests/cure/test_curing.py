from __future__ import annotations

import math

import numpy as np
import pytest
from cure_support import judged, recorded
from hypothesis import given
from hypothesis import strategies as st
from store_support import EDGE, END, INSIDE

from cure.curing import CURING, cured_share, required_h

RULES = st.sampled_from(sorted(CURING))


def days(name: str, c: float, ratio: float | None) -> float:
    return float(required_h(CURING[name], np.array([c]), ratio=ratio)[0]) / 24.0


@pytest.mark.parametrize(
    ("name", "c", "ratio", "wanted"),
    [
        # EN 13670, table F.3 (from memory): 50 % of the strength; rapid, medium, slow.
        ("EN 13670, class 3", 30.0, 0.5, 1.5), ("EN 13670, class 3", 15.0, 0.4, 4.0),
        ("EN 13670, class 3", 5.0, 0.15, 18.0), ("EN 13670, class 2", 12.0, 0.35, 4.0),
        ("EN 13670, class 4", 8.0, 0.6, 9.0),
        # DIN 1045-3 (read in a secondary copy): has a column for very slow.
        ("DIN 1045-3", 26.0, 0.6, 1.0), ("DIN 1045-3", 12.0, 0.2, 7.0), ("DIN 1045-3", 5.0, 0.1, 15.0),
        # ACI 308.1 (from memory): 7 d, or 3 d, at 10 degC and above.
        ("ACI 308", 10.0, None, 7.0), ("ACI 308, high early strength", 22.0, None, 3.0),
    ],
)  # fmt: skip
def test_the_days_are_those_of_the_table(name: str, c: float, ratio: float | None, wanted: float) -> None:
    assert days(name, c, ratio) == wanted


@pytest.mark.parametrize(
    ("name", "c", "ratio"),
    [("EN 13670, class 3", 4.9, 0.5), ("EN 13670, class 3", 20.0, 0.1), ("ACI 308", 9.9, None),
     ("DIN 1045-3", -3.0, 0.5), ("DIN 1045-3", math.nan, 0.5), ("DIN 1045-3", 20.0, math.nan),
     ("EN 13670, class 2", 20.0, math.nan)],
)  # fmt: skip
def test_where_the_table_gives_nothing_no_hour_counts(name: str, c: float, ratio: float | None) -> None:
    assert math.isinf(days(name, c, ratio))


@given(RULES, st.floats(0, 40), st.floats(0, 15), st.floats(0.0, 1.0), st.floats(0.0, 0.5))
def test_colder_and_slower_never_ask_for_less(name: str, c: float, by_c: float, ratio: float, less: float) -> None:
    assert days(name, c, ratio) >= days(name, c + by_c, ratio)
    assert days(name, c, max(0.0, ratio - less)) >= days(name, c, ratio)
    assert days(name, c, None) >= days(name, c, ratio) or math.isinf(days(name, c, ratio))


def test_an_hour_below_five_degrees_lengthens_the_curing_by_an_hour() -> None:
    rule, spans = CURING["DIN 1045-3"], np.array([24.0, 10.0, 24.0])
    assert cured_share(rule, spans, np.array([12.0, 3.0, 12.0]), ratio=0.5) == pytest.approx(1.0)
    assert cured_share(rule, spans, np.array([12.0, 3.0, 4.0]), ratio=0.5) == pytest.approx(0.5)


@pytest.mark.row("E3")
def test_a_stretch_that_is_not_known_counts_for_nothing() -> None:
    share = cured_share(CURING["ACI 308"], np.array([84.0, 84.0]), np.array([20.0, math.nan]), ratio=None)
    assert share == pytest.approx(0.5)


@given(RULES, st.lists(st.tuples(st.floats(0, 30), st.floats(-5, 35)), min_size=1, max_size=8), st.floats(0.15, 1.0))
def test_more_time_never_cures_less(name: str, stretches: list[tuple[float, float]], ratio: float) -> None:
    spans, cold = np.array(stretches).T
    shares = [cured_share(CURING[name], spans[:n], cold[:n], ratio=ratio) for n in range(len(spans) + 1)]
    assert shares == sorted(shares)


def test_seven_days_by_aci_308_are_168_counted_hours_at_ten_degrees() -> None:
    profile = recorded(lambda h: 14.0 if h % 24 < 12 else 9.0, 72.0)
    found = judged({EDGE: profile, END: profile, INSIDE: profile}, 72.0)
    assert found.coldest_spans is not None
    span_ms, coldest_c = found.coldest_spans
    share = cured_share(CURING["ACI 308"], span_ms / 3_600_000, coldest_c, ratio=None)
    assert share * 168.0 == pytest.approx(found.counted_h(10.0))
    assert found.counted_h(10.0) == pytest.approx(36.0, abs=1.0)
