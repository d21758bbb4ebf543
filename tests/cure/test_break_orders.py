"""What the laboratory is asked to break; a strength that something rests on and nobody breaks for fails."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, cast

import numpy as np
import pytest
from days_support import Rows, shown_row
from store_support import BAY, POUR, T0, make_calibration, make_site, site_dict

from cure.bound import k_factor
from cure.break_orders import NO_RECORD, Order, PourOrders, break_orders
from cure.strength import CURVES
from cure.verification import lowered
from shared.models.base import HOUR_MS, LOAD, STRIP, WALK, Operation, PourId
from shared.models.calibration import Calibration
from shared.models.decisions import GateState, MixTest, RequirementEdit, Verdict
from shared.models.estimate import Estimate
from shared.models.requirement import Requirement
from shared.models.setup import SiteFile
from shared.ports import BoardBook, MixPour, MixRow

CALIBRATION = make_calibration()
END_MS = T0 + HOUR_MS
NOW_MS = END_MS + HOUR_MS


def of(
    tests: Sequence[MixTest] = (),
    *,
    site: SiteFile | None = None,
    calibration: Calibration = CALIBRATION,
    memory: Mapping[str, Any] | None = None,
    edits: Sequence[RequirementEdit] = (),
    gates: Mapping[Operation, GateState] | None = None,
    estimate: Estimate | None = None,
) -> PourOrders:
    book = Rows() if site is None else Rows(site)
    of_row: dict[str, Any] = {str(op): state for op, state in (gates or {}).items()} | {"estimate": estimate}
    shown = shown_row(start_ms=T0, end_ms=END_MS, **of_row)
    book.rows = [shown]
    book.written = {BAY: [*edits]}
    pours = (MixPour(shown.pour, memory or {}),)
    book.of_mixes = [MixRow(book.the_site.mix[0], calibration, True, pours, tuple(tests))]
    (found,) = break_orders(cast("BoardBook", book), None, NOW_MS)
    return found


def asked(found: PourOrders) -> list[tuple[float, list[str], int]]:
    return [(o.wanted[0].mpa, [w.what for w in o.wanted], o.cylinders) for o in found.orders]


def curve_mpa(age_h: float, calibration: Calibration = CALIBRATION) -> float:
    curve = CURVES[calibration.curve]
    return float(curve.strength_mpa(np.array([age_h]), calibration.parameters)[0])


def broken(*ages_h: float, ratio: float = 1.0, pour: str = POUR) -> list[MixTest]:
    return [MixTest(PourId(pour), T0 + n, age, ratio * curve_mpa(age)) for n, age in enumerate(ages_h)]


def mixes(**changes: Any) -> list[dict[str, Any]]:
    return [{**site_dict()["mix"][0], **changes}]


def test_each_strength_of_what_is_not_done_is_ordered_where_k_times_the_curve_has_it() -> None:
    found = of()
    assert asked(found) == [(3.5, [STRIP, WALK], 2), (7.0, [LOAD], 2)]
    for order, mpa in zip(found.orders, (3.5, 7.0), strict=True):
        assert order.curve_mpa == pytest.approx(mpa / 0.8)
        assert curve_mpa(order.age_h) == pytest.approx(mpa / 0.8)
    assert (found.bay, found.pour, found.mix, found.version, found.notes) == (BAY, POUR, "c32-f", 1, ())


def test_with_supplementary_binder_it_is_seven_tenths_as_long_as_k_is_that() -> None:
    found = of(site=make_site(mix=mixes(supplementary=True)))
    assert [o.curve_mpa for o in found.orders] == pytest.approx([5.0, 10.0])
    for order in found.orders:
        k = float(k_factor(np.array([order.age_h]), supplementary=True)[0])
        assert k * order.curve_mpa == pytest.approx((3.5, 7.0)[found.orders.index(order)])


def test_what_is_done_is_not_ordered_and_what_is_only_begun_is() -> None:
    done = dict.fromkeys((STRIP, WALK), GateState.DONE)
    assert asked(of(gates=done)) == [(7.0, [LOAD], 2)]
    assert asked(of(gates={**done, LOAD: GateState.UNDER_WAY})) == [(7.0, [LOAD], 2)]
    assert of(gates={**done, LOAD: GateState.DONE}).orders == ()
    assert len(of(gates={STRIP: GateState.DONE}).orders) == 2  # the walk still asks for it


def test_what_is_in_force_is_what_is_ordered() -> None:
    own = [{"operation": "core drill", "all": [{"any": [{"lower_bound_mpa": 10}, {"all": [{"lower_bound_mpa": 5}]}]}]}]
    found = of(site=make_site(requirement=own))
    assert [(m, w) for m, w, _ in asked(found)] == [
        (3.5, [STRIP, WALK]),
        (5.0, ["core drill"]),
        (7.0, [LOAD]),
        (10.0, ["core drill"]),
    ]
    written = Requirement.model_validate({"operation": STRIP, "all": [{"lower_bound_mpa": 6.0}]})
    edit = RequirementEdit(1, T0, "engineer", "qc", "cold", written)
    assert [(m, w) for m, w, _ in asked(of(edits=[edit]))] == [(3.5, [WALK]), (6.0, [STRIP]), (7.0, [LOAD])]


def test_an_operation_that_nobody_writes_any_more_is_ordered_for_while_the_pour_is_judged_by_it() -> None:
    gone = {"operation": "core drill", "all": [{"lower_bound_mpa": 10.0}]}
    verdicts = (Verdict(Operation("core drill"), (), False, ()),)
    book = Rows()
    shown = shown_row(end_ms=END_MS, memory={"judged": {"requirements": {"core drill": gone}}}, verdicts=verdicts)
    book.rows = [shown]
    book.of_mixes = [MixRow(book.the_site.mix[0], CALIBRATION, True, (MixPour(shown.pour, {}),), ())]
    (found,) = break_orders(cast("BoardBook", book), None, NOW_MS)
    assert (10.0, ["core drill"], 2) in asked(found)


def test_tests_that_an_operation_asks_for_are_ordered_at_their_own_strength_and_number() -> None:
    plan = {**site_dict()["plan"], "also": ["full load"]}
    found = of(site=make_site(plan=plan, mix=mixes(specified_mpa=32)))
    # 75 % of 32 MPa.
    (order,) = [o for o in found.orders if o.wanted[0].what == "full load"]
    assert order.wanted[0].mpa == 24.0
    assert order.curve_mpa == pytest.approx(24.0)
    three = [{"operation": "core drill", "all": [{"tested_mpa": 12, "at_least": 4}]}]
    assert (12.0, ["core drill"], 4) in asked(of(site=make_site(requirement=three)))
    in_slab = [{"operation": "core drill", "all": [{"tested_mpa": 12, "method": "in slab"}]}]
    assert len(of(site=make_site(requirement=in_slab)).orders) == 2


def test_a_strength_beyond_the_tested_range_is_said_and_not_ordered() -> None:
    found = of(calibration=make_calibration(tested_to_h=15.0))
    assert asked(found) == [(3.5, [STRIP, WALK], 2)]
    assert found.notes == ("load asks for 7.0 MPa (1016 psi): no order, the curve has it beyond the tested 15 h",)
    own = [{"operation": "core drill", "all": [{"lower_bound_mpa": 60}]}]
    assert "core drill asks for" in of(site=make_site(requirement=own)).notes[0]


def test_nothing_is_ordered_below_the_lowest_tested_maturity() -> None:
    found = of(calibration=make_calibration(tested_from_h=40.0))
    assert asked(found) == [(3.5, [STRIP, WALK, LOAD], 2)]
    assert found.orders[0].age_h == 40.0


def test_a_weaker_mix_is_ordered_later_by_what_its_curve_counts_for_now() -> None:
    weaker = of(broken(60.0, 60.0, ratio=0.92, pour="other"))
    whole = of()
    assert [o.curve_mpa for o in weaker.orders] == pytest.approx([o.curve_mpa for o in whole.orders])
    assert all(w.age_h > o.age_h for w, o in zip(weaker.orders, whole.orders, strict=True))
    assert curve_mpa(weaker.orders[0].age_h, lowered(CALIBRATION, 0.92)) == pytest.approx(4.375)


def test_of_a_suspended_calibration_and_of_none_nothing_is_ordered_and_it_says_why() -> None:
    found = of(broken(60.0, 60.0, ratio=0.8, pour="other"))
    assert found.orders == ()
    assert "suspended, cylinders at 80 % of its curve" in found.notes[0]
    book = Rows(rows=[shown_row(end_ms=END_MS)])
    (none,) = break_orders(cast("BoardBook", book), None, NOW_MS)
    assert (none.orders, none.version) == ((), None)
    assert none.notes == ("no calibration of mix c32-f: there is no maturity to order at",)


def test_a_pour_without_an_end_is_not_there() -> None:
    assert break_orders(cast("BoardBook", Rows(rows=[shown_row()])), None, NOW_MS) == ()


def age_of(mpa: float) -> float:
    return of().orders[[3.5, 7.0].index(mpa)].age_h


@pytest.mark.parametrize(
    ("ages_h", "left"),
    [
        ((age_of(3.5), age_of(3.5)), [7.0]),
        ((0.901 * age_of(3.5), age_of(3.5)), [7.0]),
        ((0.899 * age_of(3.5), age_of(3.5)), [3.5, 7.0]),
        ((age_of(3.5),), [3.5, 7.0]),
        ((age_of(7.0), age_of(7.0)), []),
        ((701.0, 701.0), [3.5, 7.0]),
    ],
)
def test_two_cylinders_near_it_or_riper_answer_an_order(ages_h: Sequence[float], left: list[float]) -> None:
    assert [o.wanted[0].mpa for o in of(broken(*ages_h)).orders] == left
    assert len(of(broken(*ages_h, pour="other")).orders) == 2


def test_a_pour_that_is_to_verify_gets_three_cylinders_at_both_strengths() -> None:
    found = of(memory={"cold_start": True})
    assert found.verify is not None
    assert asked(found) == [(3.5, [STRIP, WALK, "verification"], 3), (7.0, [LOAD, "verification"], 3)]
    done = dict.fromkeys((STRIP, WALK, LOAD), GateState.DONE)
    assert asked(of(memory={"cold_start": True}, gates=done)) == [
        (3.5, ["verification"], 3),
        (7.0, ["verification"], 3),
    ]
    assert of().verify is None


def seen(age_h: float | None = 10.0, coldest_c: float | None = 12.0) -> Estimate:
    return Estimate(NOW_MS, 1.0, coldest_c, None, age_h, None, None, None, {})


def first(found: PourOrders) -> Order:
    return found.orders[0]


def test_the_hours_are_those_of_20_degrees_and_of_the_slab() -> None:
    order = first(of(estimate=seen()))
    at_20, beside = order.laboratory, order.beside
    assert at_20.expected_from_ms is not None
    assert at_20.expected_to_ms is not None
    assert at_20.expected_from_ms < END_MS + order.age_h * HOUR_MS < at_20.expected_to_ms
    assert beside.expected_from_ms is not None
    # At 12 degC slower than at 20 degC, for what is missing.
    assert beside.expected_from_ms > NOW_MS + (order.age_h - 10.0) * HOUR_MS
    warmer = first(of(estimate=seen(coldest_c=16.0))).beside
    assert warmer.expected_from_ms is not None
    assert warmer.expected_from_ms < beside.expected_from_ms


def test_they_ripen_by_the_law_of_their_calibration() -> None:
    own = make_calibration(
        activation_energy_kj_per_mol=60.0,
        activation_energy_sd_kj_per_mol=2.0,
        activation_energy_from_c=5.0,
        activation_energy_to_c=35.0,
    )
    slower, default = (first(of(estimate=seen(), calibration=c)).beside for c in (own, CALIBRATION))
    assert slower.expected_to_ms is not None
    assert default.expected_to_ms is not None
    assert slower.expected_to_ms > default.expected_to_ms


@pytest.mark.parametrize(
    "unknown",
    [None, seen(None), seen(coldest_c=None), seen(math.nan), replace(seen(), evidence_ms=None)],
)
def test_without_a_reading_nothing_is_said_of_the_slab(unknown: Estimate | None) -> None:
    order = first(of(estimate=unknown))
    assert (order.beside.break_from_ms, order.beside.why) == (None, NO_RECORD)
    assert order.laboratory.break_from_ms is not None
