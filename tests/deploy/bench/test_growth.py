from __future__ import annotations

from dataclasses import replace

import pytest

from deploy.bench.grown import AT_ONCE, Grown, grown
from deploy.bench.growth import judged, pours_in, row

ONE = Grown(
    sensors=1_000,
    bays=200,
    pours=4,
    first_start_s=1.0,
    start_s=0.1,
    readings=111,
    rounds=2,
    intake_us=1_000.0,
    alone_us=3_000.0,
    rounds_us=500.0,
    round_ms=20.0,
    idle_tick_ms=0.5,
    resident_mb=(90.0, 91.0, 92.0),
)
MANY = replace(ONE, sensors=100_000, bays=20_000)


def test_a_small_site_is_measured_with_all_its_parts() -> None:
    found = grown(10, 0.5, 2 * AT_ONCE)
    assert (found.sensors, found.bays, found.pours, found.readings) == (10, 2, 1, 2 * AT_ONCE)
    assert found.rounds > 0
    assert min(found.intake_us, found.alone_us, found.rounds_us, found.round_ms, found.first_start_s) > 0.0
    assert all(mb > 0.0 for mb in found.resident_mb)
    assert len(row(found).splitlines()) == 1


def test_what_costs_no_more_where_sensors_are_many_keeps_every_limit() -> None:
    sizes = (replace(ONE, sensors=10), ONE, replace(ONE, sensors=10_000), MANY)
    assert all(judged(sizes).values())
    assert len(judged(sizes)) == len(sizes) + 3


@pytest.mark.parametrize(
    "worse",
    [
        replace(MANY, intake_us=1_700.0),  # 2.2 of 1.5 ms
        replace(MANY, rounds_us=4_000.0),  # 111/s x 5 ms
        replace(MANY, resident_mb=(90.0, 91.0, 110.0)),
        replace(MANY, intake_us=float("nan")),
    ],
)
def test_a_limit_that_is_broken_is_told(worse: Grown) -> None:
    assert not all(judged((ONE, worse)).values())


def test_more_pours_fit_into_a_core_the_less_a_round_costs() -> None:
    # By hand: 500 ms - 111.1 x 1 ms leave 388.9 ms; 19.4 rounds of 20 ms; a pour makes one each 180 s.
    assert pours_in(0.5, ONE) == 3500
    assert pours_in(0.5, replace(ONE, round_ms=40.0)) == 1750
    assert pours_in(0.1, ONE) == 0
