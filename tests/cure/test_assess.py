"""Little stories through the pure core: one pour, a reading of each sensor every quarter of an hour."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache

import pytest
from cure_support import CONCRETE, END_MS, QUARTER_MS, Story, make_case, placed, plain
from store_support import AIR, BAY, EDGE, END, INSIDE, OTHER_BAY, bay_dict, make_calibration, make_site, site_dict

from shared.errors import ActRefusedError
from shared.models.base import HOUR_MS, LOAD, STRIP, WALK, SensorId
from shared.models.calibration import Calibration
from shared.models.decisions import GateState
from shared.models.messages import MessageKind
from shared.models.setup import Zone

S = GateState


def plan(**changes: object) -> dict[str, object]:
    return {**site_dict()["plan"], **changes}


def test_a_warm_pour_is_met_after_24_counted_hours_and_30_minutes_of_evidence() -> None:
    story = plain(24.25)
    assert story.state() is S.CURING
    story.run(24.75)
    assert (story.state(STRIP), story.state(WALK), story.state(LOAD)) == (S.MET, S.MET, S.CURING)
    assert MessageKind.SIGN_OFF_WANTED in story.told()
    assert MessageKind.RELEASED not in story.told()


def test_signed_begun_and_done_and_load_comes_after_strip() -> None:
    story = plain(27)
    story.press("sign", operations=["strip", "walk"])
    assert story.state() is S.RELEASED
    assert story.told().count(MessageKind.RELEASED) == 2
    story.press("under_way", "super", operation="strip")
    assert MessageKind.KEEP_OFF in story.told()
    story.press("done", "super", operation="strip")
    story.run(34)
    assert (story.state(STRIP), story.state(LOAD)) == (S.DONE, S.MET)
    with pytest.raises(ActRefusedError, match="superintendent"):
        story.press("sign", "super", operations=["load"])
    story.press("sign", "engineer", operations=["load"])
    assert story.messages[-1].facts["load_kpa"] == 1.0


@pytest.mark.row("E8")
def test_the_coldest_zone_governs_not_the_mean() -> None:
    story = Story()
    story.profile = {**story.profile, EDGE: lambda _: 4.9, INSIDE: lambda _: 30.0, END: lambda _: 30.0}
    story.run(60)
    assert story.state() is S.CURING
    estimate = story.case.state.estimate
    assert estimate is not None
    assert estimate.governing_sensor == EDGE


def test_a_cold_night_delays_and_says_so_once() -> None:
    story = Story()
    story.profile = {**dict.fromkeys(CONCRETE, lambda h: 4.0 if 8 <= h < 20 else 12.0), AIR: lambda _: 3.0}
    story.run(30)
    assert story.state() is S.CURING
    assert story.told().count(MessageKind.COLD_DELAY) == 1
    delay = next(m for m in story.messages if m.kind is MessageKind.COLD_DELAY)
    assert delay.facts["limit_c"] == 5.0


@pytest.mark.row("L1", "M3")
@pytest.mark.parametrize("sensor", CONCRETE)
def test_a_required_sensor_that_falls_silent_keeps_the_gate_shut(sensor: str) -> None:
    """No other sensor is in its zone, and the bay's air is not measured any more: nothing stands in."""
    story = plain(23.75)
    story.silent = {SensorId(sensor), AIR}
    story.run(36)
    assert story.state() is S.CURING
    assert story.told().count(MessageKind.LOGGER_SILENT) == 2


@pytest.mark.row("L1")
@pytest.mark.parametrize("sensor", CONCRETE)
def test_a_dead_sensor_does_not_stop_a_floor_while_the_air_is_measured_and_the_evidence_names_it(sensor: str) -> None:
    story = plain(23.75)
    story.silent = {SensorId(sensor)}
    story.run(30)
    assert story.state() is S.MET
    assert story.told().count(MessageKind.LOGGER_SILENT) == 1
    (verdict,) = (v for v in story.case.state.verdicts if v.operation == STRIP)
    assert f"{sensor} is silent, in its place: air" in [f.found for f in verdict.findings]


def test_a_silent_air_sensor_shuts_nothing() -> None:
    story = plain(3)
    story.silent = {AIR}
    assert story.run(26).state() is S.MET


@pytest.mark.row("L6", "O2")
def test_warm_readings_before_the_end_of_the_pour_earn_nothing() -> None:
    late_end = END_MS + 10 * HOUR_MS
    story = Story()
    story.case = replace(story.case, pour=replace(story.case.pour, end_ms=late_end))
    story.run(33.75)
    assert story.state() is S.CURING
    estimate = story.case.state.estimate
    assert estimate is not None
    assert estimate.counted_h["5"] <= 23.75


@pytest.mark.row("L11")
def test_the_order_in_which_readings_arrive_decides_nothing() -> None:
    straight = plain(26)
    rows = [(s, t, c) for s, many in straight.readings.items() for t, c in many]
    for seed in range(3):
        mixed = Story(now_ms=straight.now_ms)
        random.Random(seed).shuffle(rows)
        for s, t, c in rows:
            mixed.add(s, t, c)
        mixed.round()
        assert mixed.case.state.estimate == straight.case.state.estimate


@pytest.mark.row("E12")
def test_counted_hours_never_exceed_the_hours_that_passed() -> None:
    story = Story()
    for _ in range(20):
        story.run((story.now_ms - END_MS) / HOUR_MS + 1)
        estimate = story.case.state.estimate
        assert estimate is not None
        assert estimate.counted_h.get("5", 0.0) <= max(0.0, (story.now_ms - END_MS) / HOUR_MS)


@pytest.mark.parametrize(
    ("changes", "missing"),
    [
        ({"plan": plan(adopted_by=None, document=None)}, "adopted"),
        ({"bay": [bay_dict(BAY, construction_load_kpa=None)]}, "construction load"),
    ],
)
def test_what_a_person_must_still_supply_is_named(changes: dict[str, object], missing: str) -> None:
    story = Story(make_case(make_site(**changes))).run(30)
    assert story.state(LOAD) is S.NOT_SET_UP
    verdict = next(v for v in story.case.state.verdicts if v.operation == LOAD)
    assert any(missing in words for words in verdict.missing)


def test_without_calibration_or_end_nothing_is_set_up() -> None:
    story = Story(replace(make_case(), calibration=None)).run(30)
    assert story.state() is S.NOT_SET_UP
    story = Story()
    story.case = replace(story.case, pour=replace(story.case.pour, end_ms=None))
    assert story.run(30).state() is S.NOT_SET_UP


@pytest.mark.row("C8")
def test_a_clock_in_doubt_suspends_every_gate_until_it_is_right() -> None:
    story = plain(25)
    story.clock_ok = False
    story.round()
    assert {g.state for g in story.case.gates.values()} == {S.SUSPENDED}
    story.clock_ok = True
    story.round()
    assert story.state() is S.CURING


NAN = float("nan")
NUMBERS = ["su_mpa", "tau_h", "beta", "covariance", "tested_from_h", "tested_to_h", "activation_energy_kj_per_mol"]


@pytest.mark.row("E3")
@pytest.mark.parametrize("field", NUMBERS)
@pytest.mark.filterwarnings("ignore:invalid value")
def test_a_calibration_with_a_number_that_is_none_releases_nothing(field: str) -> None:
    whole = make_calibration(
        activation_energy_kj_per_mol=41.0,
        activation_energy_sd_kj_per_mol=5.0,
        activation_energy_from_c=5.0,
        activation_energy_to_c=40.0,
    )
    if field in {"su_mpa", "tau_h", "beta"}:
        changes: dict[str, object] = {"parameters": whole.parameters.model_copy(update={field: NAN})}
    elif field == "covariance":
        changes = {"covariance": ((NAN, 0.0, 0.0), *whole.covariance[1:])}
    else:
        changes = {field: NAN}
    # Its readings came while nobody judged.
    story = Story(make_case(calibration=whole.model_copy(update=changes))).hear(44)
    assert story.run(47).state() is S.CURING
    assert of_a_whole_one(whole).state() is S.MET


@cache
def of_a_whole_one(whole: Calibration) -> Story:
    return Story(make_case(calibration=whole)).hear(44).run(47)


@pytest.mark.row("E3")
def test_a_construction_load_that_is_no_number_is_not_on_file() -> None:
    case = make_case()
    found = make_case(bay=case.bay.model_copy(update={"construction_load_kpa": NAN}))
    story = Story(found).run(5)
    findings = next(v for v in story.case.state.verdicts if v.operation == LOAD).findings
    assert not next(f for f in findings if f.rule == "construction load").met


def test_a_sensor_added_late_is_looked_for_three_intervals_after_it_came() -> None:
    story = plain(5)
    late = placed("lg-05.1", Zone.TOP, required=False, from_ms=story.now_ms)
    story.case = replace(story.case, placements=(*story.case.placements, late))
    story.silent = {*CONCRETE, AIR}
    due = story.round().state.next_due_ms
    assert due == story.now_ms + 3 * 15 * 60_000 + 1
    assert MessageKind.LOGGER_SILENT not in story.told()


@pytest.mark.row("O9")
def test_a_signature_is_judged_on_the_evidence_at_the_press() -> None:
    story = plain(25)
    assert story.state() is S.MET
    for quarter in range(20):
        story.add(EDGE, END_MS + quarter * QUARTER_MS, 3.0)
    with pytest.raises(ActRefusedError, match="nothing to sign"):
        story.press("sign", operations=["strip"])


@pytest.mark.row("O8")
def test_two_sign_offs_are_two_people() -> None:
    story = Story(make_case(make_site(plan=plan(sign_offs=2)))).run(25)
    story.press("sign", operations=["strip"])
    assert story.state() is S.MET
    with pytest.raises(ActRefusedError, match="signed strip already"):
        story.press("sign", operations=["strip"])
    story.press("sign", "super", operations=["strip"])
    assert story.state() is S.RELEASED
    assert story.case.gates[STRIP].signers == ("qc", "super")


def test_without_sign_offs_a_cold_first_day_needs_one_all_the_same() -> None:
    story = Story(make_case(make_site(plan=plan(sign_offs=0))))
    story.profile = {**dict.fromkeys(CONCRETE, lambda _: 9.0), AIR: lambda _: 4.0}
    story.run(60)
    assert MessageKind.MET_NOT_SIGNED not in story.told()
    assert MessageKind.SIGN_OFF_WANTED in story.told()


def test_stop_shuts_and_only_a_confirmed_withdrawal_is_reopened() -> None:
    story = plain(25)
    story.press("sign", operations=["strip"])
    story.press("stop", "passer-by", why="crack")
    assert {g.state for g in story.case.gates.values()} == {S.WITHDRAWN}
    with pytest.raises(ActRefusedError, match="not confirmed"):
        story.press("reopen", "engineer", operation="strip", cause="looked at")
    story.case = replace(story.case, withdrawal_confirmed={STRIP: True})
    story.press("reopen", "engineer", operation="strip", cause="looked at")
    assert story.state() is S.CURING
    assert story.run(26).state() is S.MET


def test_forms_found_off_are_told_as_a_withdrawal() -> None:
    story = plain(10)
    story.press("forms_off", "super")
    assert story.state() is S.DONE_WITHOUT_RELEASE
    assert story.told()[-1] is MessageKind.WITHDRAWAL


def test_nobody_walks_while_a_strip_is_under_way_here_or_beside() -> None:
    story = plain(24)
    story.case = replace(story.case, stripping=(OTHER_BAY,))
    story.run(26)
    assert (story.state(STRIP), story.state(WALK)) == (S.MET, S.CURING)


@pytest.mark.row("L6")
def test_without_a_sensor_at_the_exposed_edge_every_reading_counts_colder() -> None:
    inner = [{"id": "lg-01.1", "zone": "interior"}, {"id": "lg-09.1", "zone": "air", "required": False}]
    story = Story(make_case(make_site(bay=[bay_dict(BAY, sensors=inner)])))
    story.profile = {EDGE: lambda _: 6.4, AIR: lambda _: 1.0}
    story.run(40)
    estimate = story.case.state.estimate
    assert estimate is not None
    assert estimate.counted_h["5"] == 0.0
    assert estimate.coldest_c == pytest.approx(4.9)
