"""Orders as people read them: each says what, when, and what a break needs to count."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from store_support import T0

from cure.break_hours import NEVER_OPEN, STANDS_STILL, BreakHours
from cure.break_order_lines import CAUTION, NO_HOURS, OWN_RECORD, SAME, hours_said, lines, to_json
from cure.break_orders import Order, PourOrders, Wanted
from shared.models.base import HOUR_MS
from shared.models.setup import LaboratorySettings

ZONE = "America/Halifax"
LAB = LaboratorySettings.model_validate({"open": "08:00-17:00", "days": ["mon", "tue"]})
HOURS = BreakHours(T0, T0 + 2 * HOUR_MS, T0 + HOUR_MS, T0 + 2 * HOUR_MS, 18.96, 19.99)
ORDER = Order(
    age_h=18.86,
    curve_mpa=4.375,
    wanted=(Wanted(3.5, "strip"), Wanted(3.5, "walk"), Wanted(12.0, "core drill", by_bound=False)),
    cylinders=2,
    laboratory=HOURS,
    beside=BreakHours(why=STANDS_STILL),
)
EXPECTED = "expected Mon 24 Nov 12:00 UTC-0400 to Mon 24 Nov 14:00 UTC-0400"
BROKEN = "Mon 24 Nov 13:00 UTC-0400 to Mon 24 Nov 14:00 UTC-0400"
AT = (
    "    2 cylinders at 18.9 h of equivalent age, where the curve has 4.3 MPa (634 psi), for strip, walk "
    "(lower bound 3.5 MPa (508 psi)); core drill (tests 12.0 MPa (1741 psi))"
)
POUR = PourOrders("2-b1", "2-b1-p1", "c32-f", 1, None, (ORDER,))


def told(*pours: PourOrders, lab: LaboratorySettings | None = LAB) -> list[str]:
    return lines(pours, lab, ZONE, "SI", T0)


def test_an_order_says_what_for_what_and_when() -> None:
    # T0 is noon of the site's day. A target is rounded up, what is found down.
    assert told(POUR)[:6] == [
        "Mon 24 Nov 12:00 UTC-0400; laboratory open 08:00-17:00, mon, tue",
        "2-b1, pour 2-b1-p1, mix c32-f, version 1",
        AT,
        f"        cured at 20 °C: {EXPECTED}; break {BROKEN}, at 18.9 h to 19.9 h of equivalent age",
        f"        beside the slab: no hour; not to be broken: {STANDS_STILL}",
        f"        from the last third of the pour; {OWN_RECORD}",
    ]
    assert told(POUR)[-1] == CAUTION


def test_every_order_says_that_a_break_counts_only_with_its_own_temperature_record() -> None:
    two = replace(POUR, orders=(ORDER, replace(ORDER, age_h=40.0)))
    assert sum(OWN_RECORD in line for line in told(two, POUR)) == 3
    assert "only with its own temperature record" in OWN_RECORD


def test_a_moved_window_is_told_with_both_hours() -> None:
    said = hours_said(replace(HOURS, moved=True), ZONE)
    assert said.startswith(
        "expected Mon 24 Nov 12:00 UTC-0400 to Mon 24 Nov 14:00 UTC-0400, when the laboratory is shut"
    )
    assert "; break Mon 24 Nov 13:00 UTC-0400" in said
    assert "shut" not in hours_said(HOURS, ZONE)


def test_two_orders_for_one_hour_are_answered_by_the_same_breaks() -> None:
    later = replace(HOURS, break_from_ms=T0 + 3 * HOUR_MS, break_to_ms=T0 + 4 * HOUR_MS)
    orders = (ORDER, replace(ORDER, age_h=40.0), replace(ORDER, age_h=50.0, laboratory=later, beside=HOURS))
    said = [line for line in told(replace(POUR, orders=orders)) if "cured at" in line or "beside the slab:" in line]
    assert [line.endswith(SAME) for line in said] == [False, False, True, False, False, False]


def test_what_has_ripened_already_is_not_expected_any_more() -> None:
    said = hours_said(replace(HOURS, expected_to_ms=T0), ZONE)
    assert said.startswith("reached by Mon 24 Nov 12:00 UTC-0400; break Mon 24 Nov 13:00 UTC-0400 to")


def test_what_has_no_hour_says_why() -> None:
    none = BreakHours(T0, None, why=NEVER_OPEN)
    assert hours_said(none, ZONE) == (
        f"expected Mon 24 Nov 12:00 UTC-0400 to no hour that is known; not to be broken: {NEVER_OPEN}"
    )


def test_notes_and_why_it_is_to_verify_are_told() -> None:
    said = told(replace(POUR, orders=(), verify="no set for 8 days", notes=("a note",)))
    assert said[2:4] == ["    to verify its calibration: no set for 8 days", "    a note"]
    assert told(replace(POUR, orders=()))[2] == "    nothing to order"
    assert told()[1] == "no open pour with an end"
    assert told(replace(POUR, version=None))[1] == "2-b1, pour 2-b1-p1, mix c32-f"


def test_a_site_without_hours_of_a_laboratory_is_told_so() -> None:
    assert told(POUR, lab=None)[0] == f"Mon 24 Nov 12:00 UTC-0400; {NO_HOURS}"


def test_a_us_site_reads_its_own_units_first() -> None:
    assert "the curve has 634 psi (4.3 MPa)" in lines([POUR], LAB, ZONE, "US", T0)[2]


@pytest.mark.parametrize("lab", [LAB, None])
def test_as_json_it_is_all_there(lab: LaboratorySettings | None) -> None:
    found = json.loads(json.dumps(to_json([POUR], lab, T0), allow_nan=False))
    assert found["pours"][0]["orders"][0]["laboratory"]["break_from_ms"] == T0 + HOUR_MS
    assert found["pours"][0]["orders"][0]["wanted"][0] == {
        "mpa": 3.5,
        "what": "strip",
        "by_bound": True,
        "cylinders": 2,
    }
    assert (found["counts"], found["caution"], found["at_ms"]) == (OWN_RECORD, CAUTION, T0)
    assert found["laboratory"] == (None if lab is None else {"open": "08:00-17:00", "days": ["mon", "tue"]})
