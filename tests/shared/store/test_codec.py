"""What is stored as JSON comes back equal."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.errors import StoreError
from shared.models.base import Operation, SensorId
from shared.models.decisions import Finding, Verdict
from shared.models.estimate import Estimate
from shared.store.codec import canonical, digest_of, estimate_from, estimate_to, parsed, verdicts_from, verdicts_to

NUMBERS = st.none() | st.floats(allow_nan=False, allow_infinity=False)
VALUES = NUMBERS | st.text()
ESTIMATES = st.none() | st.builds(
    Estimate,
    evidence_ms=st.none() | st.integers(0, 2**62),
    age_h=NUMBERS,
    coldest_c=NUMBERS,
    governing_sensor=st.none() | st.just(SensorId("lg-01.1")),
    equivalent_age_h=NUMBERS,
    temperature_time_c_h=NUMBERS,
    strength_mpa=NUMBERS,
    lower_bound_mpa=NUMBERS,
    counted_h=st.dictionaries(st.sampled_from(["5", "10"]), st.floats(0, 1e6)),
)
FINDINGS = st.builds(
    Finding,
    rule=st.text(),
    found=VALUES,
    limit=VALUES,
    unit=st.sampled_from(["h", "degC", "MPa", ""]),
    met=st.booleans(),
    lasting=st.booleans(),
)
VERDICTS = st.builds(
    Verdict,
    operation=st.sampled_from([Operation("strip"), Operation("load")]),
    missing=st.lists(st.text(), max_size=2).map(tuple),
    met=st.booleans(),
    findings=st.lists(FINDINGS, max_size=3).map(tuple),
)


@given(ESTIMATES)
def test_an_estimate_comes_back_equal(estimate: Estimate | None) -> None:
    assert estimate_from(estimate_to(estimate)) == estimate


@given(st.lists(VERDICTS, max_size=3).map(tuple))
def test_verdicts_come_back_equal(verdicts: tuple[Verdict, ...]) -> None:
    assert verdicts_from(verdicts_to(verdicts)) == verdicts


def test_every_field_is_kept() -> None:
    """A field that is added to a value and not to its codec must not be lost in silence."""
    fields = (set(Estimate.__dataclass_fields__), set(Verdict.__dataclass_fields__), set(Finding.__dataclass_fields__))
    estimate = estimate_to(Estimate(None, None, None, None, None, None, None, None, {}))
    assert estimate is not None
    verdict = parsed(verdicts_to([Verdict(Operation("strip"), (), True, (Finding("r", 1, 2, "h", True),))]))[0]
    assert (set(parsed(estimate)), set(verdict), set(verdict["findings"][0])) == fields


def test_equal_values_have_one_text_and_one_digest() -> None:
    assert canonical({"b": 1, "a": [1.5, None]}) == '{"a":[1.5,null],"b":1}'
    assert digest_of({"b": 1, "a": 2}) == digest_of({"a": 2, "b": 1}) != digest_of({"a": 2, "b": 2})


@pytest.mark.row("S8")
@pytest.mark.parametrize("odd", [math.nan, math.inf, -math.inf, object(), {1, 2}])
def test_what_is_no_json_is_refused(odd: object) -> None:
    with pytest.raises(StoreError, match="JSON"):
        canonical({"x": odd})
