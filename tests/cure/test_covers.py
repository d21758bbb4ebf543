"""Which bays want a cover tonight."""

from __future__ import annotations

import pytest
from cure_support import make_case, placed, series
from days_support import found, shown_row, site_with, with_bound
from store_support import AIR, BAY, OTHER_BAY, bay_dict, make_site

from cure.covers import Night, air_sensors, cover_tonight, expected_low_c, wants
from shared.models.base import HOUR_MS, BayId
from shared.models.readings import Series
from shared.models.setup import SiteFile, Zone

NIGHT = Night(0, 14 * HOUR_MS)
COLD = {BAY: 2.0, OTHER_BAY: 2.0}


def site(
    thickness_mm: tuple[int, int] = (100, 100), area_m2: tuple[float | None, float | None] = (80.0, 45.5)
) -> SiteFile:
    bays = [
        bay_dict(bay, first_logger=logger, thickness_mm=mm, area_m2=m2)
        for bay, logger, mm, m2 in zip((BAY, OTHER_BAY), (1, 11), thickness_mm, area_m2, strict=True)
    ]
    return make_site(bay=bays, site={**site_with(covers_m2=100.0).site.model_dump()})


def air(c: float, *, from_h: float = 0, to_h: float = 14) -> Series:
    times = [round(q * HOUR_MS / 4) for q in range(round(from_h * 4), round(to_h * 4) + 1)]
    return series(times, [c] * len(times))


@pytest.mark.parametrize(
    ("bound_mpa", "covered", "wanted"),
    [(None, None, 1), (3.49, None, 1), (3.49, False, 1), (3.5, None, 0), (float("nan"), None, 1), (1.0, True, 0)],
)
def test_young_concrete_without_a_cover_wants_one_and_not_known_is_young(
    bound_mpa: float | None, covered: bool | None, wanted: int
) -> None:
    memory = {} if covered is None else {"covered": covered}
    assert len(wants([with_bound(shown_row(memory=memory), bound_mpa)])) == wanted
    assert len(wants([shown_row(memory=memory)])) == (covered is not True)


@pytest.mark.parametrize(
    ("low_c", "listed"), [(7.0, True), (7.001, False), (-4.0, True), (None, True), (float("nan"), True)]
)
def test_a_night_at_7_degrees_or_of_which_nothing_is_known_wants_covers(low_c: float | None, listed: bool) -> None:
    facts = cover_tonight(site(), [shown_row()], {BAY: low_c}, None)
    assert (facts is not None) is listed


def test_no_bay_no_list() -> None:
    assert cover_tonight(site(), [], {}, None) is None
    assert cover_tonight(site(), [with_bound(shown_row(), 4.0)], COLD, None) is None


def test_the_list_says_where_how_much_and_until_when() -> None:
    rows = [shown_row(estimate=found(1.0)), shown_row("2-b2-p1", OTHER_BAY, estimate=found(1.0, coldest_c=9.0))]
    facts = cover_tonight(site(), rows, {BAY: 2.0}, 17 * HOUR_MS)
    assert facts == {
        "bays": [
            {"bay": OTHER_BAY, "pour": "2-b2-p1", "area_m2": 45.5, "expected_low_c": None, "covered": False},
            {"bay": BAY, "pour": "2-b1-p1", "area_m2": 80.0, "expected_low_c": 2.0, "covered": False},
        ],
        "stock_m2": 100.0,
        "need_m2": 125.5,
        "first": OTHER_BAY,
        "by_ms": 17 * HOUR_MS,
    }


@pytest.mark.parametrize(
    ("area_m2", "covered", "stock_m2"),
    [(45.5, True, 54.5), (45.5, False, 100.0), (120.0, True, 0.0), (None, True, None), (None, False, 100.0)],
)
def test_what_lies_on_a_slab_already_is_not_in_stock(
    area_m2: float | None, covered: bool, stock_m2: float | None
) -> None:
    rows = [shown_row(), shown_row("2-b2-p1", OTHER_BAY, memory={"covered": covered})]
    facts = cover_tonight(site(area_m2=(80.0, area_m2)), rows, COLD, None)
    assert facts is not None
    assert facts["stock_m2"] == stock_m2


def test_an_area_that_is_not_known_makes_the_need_not_known() -> None:
    rows = [shown_row(), shown_row("2-b2-p1", OTHER_BAY)]
    facts = cover_tonight(site(area_m2=(80.0, None)), rows, COLD, None)
    assert facts is not None
    assert facts["need_m2"] is None


@pytest.mark.parametrize(
    ("thickness_mm", "coldest_c", "end_ms", "first"),
    [
        ((100, 90), (2.0, 20.0), (9, 0), OTHER_BAY),  # the thinner slab, warm and old as it is
        ((100, 100), (12.0, 12.1), (0, 9), BAY),  # the colder concrete
        ((100, 100), (12.0, None), (9, 0), OTHER_BAY),  # how cold is not known
        ((100, 100), (12.0, 12.0), (0, 9), OTHER_BAY),  # the younger pour
    ],
)
def test_the_thinnest_then_the_coldest_then_the_youngest_would_freeze_first(
    thickness_mm: tuple[int, int], coldest_c: tuple[float | None, float | None], end_ms: tuple[int, int], first: BayId
) -> None:
    rows = [
        shown_row(pour, bay, end_ms=end, estimate=found(1.0, coldest_c=c))
        for pour, bay, c, end in zip(("a", "b"), (BAY, OTHER_BAY), coldest_c, end_ms, strict=True)
    ]
    for order in (rows, rows[::-1]):
        facts = cover_tonight(site(thickness_mm), order, COLD, None)
        assert facts is not None
        assert facts["first"] == first


def test_the_night_ahead_is_as_cold_as_the_last_one_at_the_coldest_of_its_sensors() -> None:
    assert expected_low_c([air(9.0), air(8.5)], NIGHT) == 8.5
    assert expected_low_c([], NIGHT) is None
    assert expected_low_c([air(9.0, to_h=-1)], NIGHT) is None


@pytest.mark.parametrize(
    ("from_h", "to_h", "known"), [(0, 14, True), (2, 12, True), (2.25, 14, False), (0, 11.75, False)]
)
def test_a_hole_of_more_than_two_hours_may_hide_a_cold_night(from_h: float, to_h: float, known: bool) -> None:
    assert (expected_low_c([air(9.0, from_h=from_h, to_h=to_h)], NIGHT) is not None) is known
    # Cold that was seen stays seen.
    assert expected_low_c([air(3.0, from_h=from_h, to_h=to_h)], NIGHT) == 3.0


def test_the_air_of_a_bay_is_that_above_it() -> None:
    placements = [*make_case().placements, placed("lg-08.1", Zone.AIR, to_ms=0), placed("lg-10.1", Zone.AIR_BELOW)]
    assert air_sensors(placements, BAY) == (AIR,)
    assert air_sensors(placements, BayId("gone")) == ()
