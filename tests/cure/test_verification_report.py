"""What a person sees of a calibration's verification; a set that is lost, or a limit that is not said, fails."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any, cast
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from days_support import Rows
from hypothesis import given
from hypothesis import strategies as st
from store_support import T0, make_calibration, make_pour, make_site

from cure.cautions import OF_A_CURVE
from cure.strength import CURVES
from cure.verification import running_sum, verified
from cure.verification_report import (
    NOTHING_RELEASED,
    RULES,
    SIGNED_BY,
    SetRow,
    Verification,
    lines,
    page,
    verification_of,
    verifications,
)
from shared.models.base import DAY_MS, PourId
from shared.models.decisions import MixTest
from shared.ports import BoardBook, MixPour, MixRow

CALIBRATION = make_calibration(valid_until=date(2026, 3, 31))
TODAY = date(2025, 11, 24)
ZONE = "America/Halifax"


def cylinders(ratio: float, n: int, pour: str = "<p>", many: int = 2, age_h: float = 24.0) -> list[MixTest]:
    on_curve = float(CURVES["exponential"].strength_mpa(np.array([age_h]), CALIBRATION.parameters)[0])
    return [MixTest(PourId(pour), T0 + n * DAY_MS + i, age_h, ratio * on_curve) for i in range(many)]


def row_of(*ratios: float, more: Sequence[MixTest] = (), pours: Sequence[str] = (), **changes: Any) -> MixRow:
    tests = [t for n, ratio in enumerate(ratios) for t in cylinders(ratio, n)] + [*more]
    calibration = CALIBRATION.model_copy(update=changes)
    open_pours = tuple(MixPour(make_pour(p), {}) for p in pours)
    return MixRow(make_site().mix[0], calibration, True, open_pours, tuple(tests))


def of(*ratios: float, **given_row: Any) -> Verification:
    return verification_of(row_of(*ratios, **given_row), TODAY)


def test_every_set_is_a_row_with_the_running_sum_that_the_rounds_use() -> None:
    ratios = (1.0, 0.96, 0.93, 1.2, 0.955)
    found = of(*ratios)
    assert [s.ratio for s in found.sets] == pytest.approx(ratios)
    stands = verified(CALIBRATION, row_of(*ratios).tests, PourId("none"))
    assert tuple(s.running_sum for s in found.sets) == running_sum(stands.sets)
    assert (found.ratio, found.suspended) == (stands.ratio, stands.suspended)
    assert [s.cylinders for s in found.sets] == [2] * 5


@pytest.mark.parametrize(
    ("ratio", "says"),
    [
        (0.849, "suspends the calibration"),
        (0.85, "low: lowers the curve; two on end suspend it"),
        (0.899, "low: lowers the curve; two on end suspend it"),
        (0.90, "lowers the curve"),
        (0.949, "lowers the curve"),
        (0.95, "near the curve"),
        (1.15, "near the curve"),
        (1.151, "strong: is this the mix?"),
        (math.nan, "suspends the calibration"),
        (math.inf, "strong: is this the mix?"),
    ],
)
def test_a_set_says_what_its_ratio_does(ratio: float, says: str) -> None:
    assert SetRow(1, PourId("p"), T0, 2, ratio, 0.0).says == says


@given(st.lists(st.floats(0.7, 1.3), max_size=12))
def test_what_is_said_of_the_curve_is_what_pours_are_judged_by(ratios: list[float]) -> None:
    found = of(*ratios)
    assert (found.suspended is not None) is found.counts_for().startswith("SUSPENDED")
    assert found.drifting is (bool(found.sets) and found.sets[-1].running_sum < -0.10)
    assert found.drifting is found.drift().endswith("DRIFTING")


def test_a_small_shift_is_shown_as_a_drift_while_no_set_is_low() -> None:
    found = of(*[0.955] * 6)
    assert {s.says for s in found.sets} == {"near the curve"}
    assert found.drift() == "running sum -12.0 %, limit -10.0 %: DRIFTING"
    assert of(*[0.955] * 4).drift().endswith("no drift")
    assert of().drift() == "no set of cylinders yet"


def test_a_pour_that_keeps_its_own_lower_ratio_is_named() -> None:
    own = cylinders(0.92, -9, "2-b1-p1")
    found = of(1.0, 1.0, more=own, pours=["2-b1-p1", "2-b2-p1"])
    assert found.counts_for() == "the curve counts for 100.0 %; 92.0 % for 2-b1-p1, by its own cylinders"
    assert list(found.own) == ["2-b1-p1"]


def test_what_cylinders_say_of_batches_is_on_the_lines_the_page_and_in_json() -> None:
    own = cylinders(0.97, -9, "2-b1-p1")
    found = of(1.0, 1.0, 1.0, more=own, pours=["2-b1-p1"])
    scatter, batch = found.batch_lines()
    assert scatter.startswith("nine in ten sets are above ")
    assert batch.startswith("own cylinders of 2-b1-p1: 2, ")
    assert {f"    {scatter}", f"    {batch}"} <= set(lines([found], ZONE))
    text = page([found], "a site", ZONE, T0)
    assert scatter in text
    assert batch in text
    assert cast("Any", found.to_json()["batches"])["2-b1-p1"]["cylinders"] == 2


def test_a_closed_pour_is_not_named() -> None:
    row = row_of(more=[*cylinders(0.92, -9, "old"), *cylinders(1.0, 1), *cylinders(1.0, 2)], pours=["old"])
    closed = replace(row.pours[0].pour, closed_ms=T0 + DAY_MS)
    found = verification_of(replace(row, pours=(MixPour(closed, {}),)), TODAY)
    assert (found.own, found.ratio) == ({}, 1.0)


def test_cylinders_that_say_nothing_are_counted_with_the_reason() -> None:
    more = [*cylinders(0.9, 1, many=1), *cylinders(0.9, 2, age_h=7.9, many=3), *cylinders(0.9, 5, age_h=701.0)]
    assert of(1.0, more=[*more, *cylinders(0.9, 9, "alone", many=1)]).idle() == [
        "5 outside the tested 8 to 700 h of equivalent age",
        "2 in sets of fewer than 2",
    ]
    assert of(1.0).idle() == []


@pytest.mark.parametrize(("today", "over"), [(date(2026, 3, 31), False), (date(2026, 4, 1), True)])
def test_the_last_day_is_told_and_that_it_is_over(today: date, over: bool) -> None:
    found = verification_of(row_of(), today)
    assert found.ended is over
    assert found.validity().startswith("in force, for pours through 2026-03-31")
    assert ("which is over" in found.validity()) is over
    none = replace(found, valid_until=None, ended=False, in_force=False)
    assert none.validity() == ("only for open pours, which keep it, until there is a new version; fit for release")


def test_as_text_every_set_is_a_line() -> None:
    text = lines([of(1.0, 0.84)], ZONE)
    assert text[0] == (
        "c32-f, version 1, made on invented for tests: in force, for pours through 2026-03-31; fit for release"
    )
    assert text[1] == "    SUSPENDED, nothing is judged by it any more: cylinders at 84 % of its curve"
    # T0 is noon of the site's day.
    assert text[3] == (
        "    set 2: pour <p>, Tue 25 Nov 12:00 UTC-0400, 2 cylinders, 84.0 % of the curve, suspends the calibration; "
        "running sum -13.5 %"
    )
    assert text[-1] == RULES


@given(st.lists(st.floats(0.0, 3.0), max_size=5))
def test_as_json_there_is_no_number_that_json_does_not_have(ratios: list[float]) -> None:
    found = of(*ratios)
    odd = replace(found, sets=(*found.sets, SetRow(9, PourId("p"), T0, 2, math.nan, -math.inf)))
    told = json.loads(json.dumps(odd.to_json(), allow_nan=False))
    assert told["sets"][-1]["ratio"] is None
    assert told["sets"][-1]["running_sum"] is None
    assert [s["ratio"] for s in told["sets"][:-1]] == [s.ratio for s in found.sets]
    assert told["limits"] == {"too_low": 0.85, "low": 0.9, "applied": 0.95, "too_high": 1.15, "running_sum": -0.1}
    assert told["valid_until"] == "2026-03-31"


WANTED = {
    "mix": "Mix c32-f, version 1",
    "name of the site": "Mill &lt;House&gt;",
    "pour": "<td>&lt;p&gt;</td>",
    "when": "Tue 25 Nov 12:00 UTC-0400",
    "ratio": "<td>93.0 %</td>",
    "what it says": "<td>lowers the curve</td>",
    "what counts": "the curve counts for 93.0 %",
    "running sum": "running sum -4.5 %, limit -10.0 %: no drift",
    "validity": "through 2026-03-31",
    "rules": RULES,
    "caution": OF_A_CURVE,
    "releases nothing": NOTHING_RELEASED,
    "chart": "<svg ",
    "hour": "<small>Mon 24 Nov 12:00 UTC-0400</small>",
    **{f"signature of {who}": f"{who}: <span" for who in SIGNED_BY},
}


@pytest.mark.parametrize("what", sorted(WANTED))
def test_the_page_has_everything(what: str) -> None:
    assert WANTED[what] in page([of(1.0, 0.9300001)], "Mill <House>", ZONE, T0)


def test_the_rules_say_the_limits_that_are_used() -> None:
    assert [w for w in ("95 %", "85 %", "90 %", "115 %", "97.5 %", "-10 %") if w not in RULES] == []


def test_every_version_on_the_book_is_told() -> None:
    book = Rows()
    book.of_mixes = [row_of(1.0), row_of(version=2)]
    found = verifications(cast("BoardBook", book), T0)
    assert [v.name for v in found] == ["c32-f, version 1", "c32-f, version 2"]


def test_the_page_is_well_formed_but_for_its_first_line() -> None:
    text = page([of(), of(1.0, 0.5)], "x", ZONE, T0)
    body = text[text.index("<h1>") : text.index("</html>")]
    assert ET.fromstring(f"<all>{body}</all>").findall(".//h2")  # noqa: S314 - our own text
