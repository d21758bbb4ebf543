from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from cure_support import END_MS, QUARTER_MS, judged, make_case, placed, recorded, series
from store_support import AIR, EDGE, T0, make_site

from cure.bay import BayEvidence, evidence
from cure.doubts import doubts
from cure.erratic import HANDS_MS, batches, other_pace, spikes, unit_slips, without_errors
from cure.seen import FOREVER, Cause, Seen
from shared.models.base import HOUR_MS, MINUTE_MS, STRIP
from shared.models.decisions import Gate, GateState, HoldKind, PourState
from shared.models.readings import Series
from shared.models.setup import Zone
from shared.ports import PourCase

EDGE_ZONE, IN_AIR = placed(EDGE, Zone.EXPOSED_EDGE), placed(AIR, Zone.AIR)
ALONE = (EDGE_ZONE, IN_AIR)


def slab(hours: float) -> float:
    """A slab after its peak, never twice the same to a sixteenth of a degree."""
    return 12.0 + 8.0 * float(np.exp(-max(0.0, hours) / 12.0)) + 0.07 * ((round(hours * 4) * 7) % 3)


def changed(at_h: float, c: float, hours: float = 20.0) -> Series:
    return recorded(lambda h: c if h == at_h else slab(h), hours, from_h=-1.0)


def alone(edge: Series, hours: float = 20.0, case: PourCase | None = None) -> BayEvidence:
    readings = {EDGE: edge, AIR: recorded(6.0, hours, from_h=-1.0)}
    return judged(readings, hours, make_case(placements=ALONE) if case is None else case)


def causes(found: BayEvidence) -> list[Cause]:
    return [d.cause for d in found.doubts]


def seen(edge: Series) -> Seen:
    return Seen(EDGE_ZONE, edge)


@pytest.mark.row("R8")
@pytest.mark.parametrize(("up_c", "found"), [(2.8, False), (3.2, True), (40.0, True)])
def test_a_single_reading_above_both_its_neighbours_earns_nothing_and_is_kept(up_c: float, found: bool) -> None:
    up = changed(10.0, slab(10.0) + up_c)
    evidence = alone(up)
    assert (causes(evidence) == [Cause.SPIKE]) is found
    assert evidence.counted_h(5.0) == 20.0 - (0.5 if found else 0.0)
    assert len(evidence.sensors[0].raw) == len(up)
    assert evidence.fresh()


@pytest.mark.parametrize("down_c", [3.5, 12.0, 30.0])
def test_a_single_reading_below_its_neighbours_is_believed(down_c: float) -> None:
    cold = slab(10.0) - down_c
    evidence = alone(changed(10.0, cold))
    assert causes(evidence) == []
    assert evidence.counted_h(5.0) == 20.0 - (0.5 if cold < 5.0 else 0.0)


def test_the_spike_rule_is_off_for_two_hours_after_hands_were_at_the_slab() -> None:
    up = changed(10.0, 30.0)
    at_ms = END_MS + 10 * HOUR_MS
    for since, found in ((0, False), (HANDS_MS, False), (HANDS_MS + 1, True), (-1, True)):
        tap = at_ms - since
        assert bool(list(spikes(seen(up), [(tap, tap)]))) is found
    early = changed(1.75, 30.0)
    assert causes(alone(early)) == []
    covered = make_case(placements=ALONE, state=PourState(memory={"covers": [[at_ms - HOUR_MS, None]]}))
    assert causes(alone(up, case=covered)) == []
    strip = Gate(covered.pour.id, STRIP, GateState.UNDER_WAY, changed_ms=at_ms - HOUR_MS)
    assert causes(alone(up, case=make_case(placements=ALONE, gates={STRIP: strip}))) == []


def test_after_a_hole_no_reading_is_a_spike() -> None:
    up = changed(10.0, 30.0)
    there = np.abs(up.taken_ms - (END_MS + 10 * HOUR_MS)) >= 1
    there &= (up.taken_ms < END_MS + 9 * HOUR_MS) | (up.taken_ms > END_MS + 10 * HOUR_MS)
    hole = Series(np.append(up.taken_ms[there], []).astype(np.int64), up.milli_c[there])
    assert list(spikes(seen(hole), [])) == []


@pytest.mark.row("L16")
@pytest.mark.parametrize("readings", [1, 2, 3, 12])
def test_68_for_20_in_the_midst_of_a_record_is_a_unit_that_slipped_until_it_slips_back(readings: int) -> None:
    def slipped(h: float) -> float:
        return slab(h) * 1.8 + 32.0 if 10.0 <= h < 10.0 + readings / 4 else slab(h)

    found = [d for d in alone(recorded(slipped, 20.0, from_h=-1.0)).doubts if d.cause is Cause.UNIT]
    at_ms = END_MS + 10 * HOUR_MS
    assert [d.refused for d in found] == [((at_ms - QUARTER_MS, at_ms + (readings - 1) * QUARTER_MS),)]
    assert found[0].hold is (HoldKind.SENSOR_DOUBTFUL if readings >= 3 else None)


def _slipped(scale: float, offset: float, h: float) -> float:
    return scale * slab(h) + offset if h >= 10.0 else slab(h)


@pytest.mark.row("L16")
def test_a_unit_that_slips_for_good_and_the_other_way_stops_credit_from_there_on() -> None:
    for factor, plus in ((1.8, 32.0), (1 / 1.8, -32.0 / 1.8)):
        times = [q / 4 for q in range(-4, 81)]
        said = [slab(h) * factor + plus if h >= 10.0 else slab(h) for h in times]
        evidence = alone(series([END_MS + round(h * HOUR_MS) for h in times], said))
        assert [d.refused for d in evidence.doubts if d.cause is Cause.UNIT] == [
            ((END_MS + 10 * HOUR_MS - QUARTER_MS, FOREVER[1]),)
        ]
        assert evidence.watermark_ms == END_MS + 10 * HOUR_MS - QUARTER_MS
        assert not evidence.fresh()


def test_a_jump_to_any_other_number_is_no_other_unit() -> None:
    assert list(unit_slips(seen(recorded(lambda h: slab(h) + (15.0 if h >= 10 else 0.0), 20.0)))) == []
    assert list(unit_slips(seen(recorded(slab, 20.0)))) == []


def held_back(how_many: int, apart_ms: int) -> Series:
    """Return a record with a hole of three hours, after which so many readings come at once."""
    times = [END_MS + i * QUARTER_MS for i in range(20)]
    back = times[-1] + 3 * HOUR_MS
    burst = [back + i * apart_ms for i in range(how_many)]
    after = [burst[-1] + (i + 1) * QUARTER_MS for i in range(20)]
    every = [*times, *burst, *after]
    return series(every, [slab((t - END_MS) / HOUR_MS) for t in every])


@pytest.mark.row("R3")
@pytest.mark.parametrize(
    ("how_many", "apart_ms", "found"),
    [(12, 1000, True), (3, 1000, True), (2, 1000, False), (12, 200_000, True), (12, 225_000, False)],
)
def test_what_was_held_back_and_stamped_when_it_arrived_counts_for_nothing(
    how_many: int, apart_ms: int, found: bool
) -> None:
    record = held_back(how_many, apart_ms)
    told = list(batches(seen(record)))
    assert [d.cause for d in told] == ([Cause.BATCH] if found else [])
    if found:
        left = told[0].believed(record.taken_ms)
        assert list(np.flatnonzero(~left)) == list(range(20, 20 + how_many))
        assert told[0].told


@pytest.mark.row("R3")
def test_a_logger_that_sends_every_minute_is_no_batch_and_copies_by_two_gateways_are_none() -> None:
    minutes = [END_MS + i * MINUTE_MS for i in range(600)]
    assert list(batches(seen(series(minutes, [18.0] * 600)))) == []
    twice = sorted(END_MS + i * QUARTER_MS + d for i in range(40) for d in (0, 1500))
    assert list(batches(seen(series(twice, [18.0] * 80)))) == []


@pytest.mark.row("L13")
@pytest.mark.parametrize(
    ("every_min", "found"), [(15, False), (12, False), (22, False), (23, True), (180, True), (5, True)]
)
def test_another_interval_than_the_one_set_up_is_told_and_takes_nothing(every_min: int, found: bool) -> None:
    record = series([END_MS + i * every_min * MINUTE_MS for i in range(30)], [18.0] * 30)
    told = list(other_pace(seen(record)))
    assert bool(told) is found
    if found:
        assert told[0].refused == ()
        assert told[0].reason.endswith(f"measures every {every_min} min, not every 15 as the site file says")


def test_a_lossy_radio_is_no_other_interval() -> None:
    times = [END_MS + i * QUARTER_MS for i in range(60) if i % 3 or i % 5 == 0]
    assert list(other_pace(seen(series(times, [18.0] * len(times))))) == []


DECLARED = {"id": "strip-probe", "error_values_c": [64.0, -17.8]}


def of_type(*placements: object) -> PourCase:
    site = make_site()
    bays = [b.model_dump(mode="json") for b in site.bay]
    for bay in bays:
        for sensor in bay["sensors"]:
            sensor["type"] = "strip-probe"
    return make_case(site=make_site(bay=bays, sensor_type=[DECLARED]), placements=ALONE)


@pytest.mark.row("L3")
@pytest.mark.parametrize("c", [64.0, -17.8])
def test_a_declared_error_value_away_from_both_neighbours_is_as_if_nothing_had_been_said(c: float) -> None:
    found = alone(changed(10.0, c), case=of_type())
    assert [(d.cause, d.hidden, d.told) for d in found.doubts] == [(Cause.ERROR_VALUE, True, False)]
    assert round(c * 1000) not in found.sensors[0].raw.milli_c
    assert found.counted_h(5.0) == 19.5
    untyped = alone(changed(10.0, c))
    assert round(c * 1000) in untyped.sensors[0].raw.milli_c
    assert Cause.ERROR_VALUE not in causes(untyped)


@pytest.mark.row("L3")
def test_a_declared_error_value_near_a_neighbour_is_a_temperature() -> None:
    near = recorded(lambda h: -17.8 if h == 10.0 else -8.0 if h == 10.25 else slab(h), 20.0, from_h=-1.0)
    found = alone(near, case=of_type())
    assert Cause.ERROR_VALUE not in causes(found)
    assert -17_800 in found.sensors[0].raw.milli_c


@pytest.mark.row("L3")
def test_the_newest_error_value_waits_for_its_next_neighbour_and_no_longer_than_that_may_take() -> None:
    newest = recorded(lambda h: -17.8 if h == 10.0 else slab(h), 10.0, from_h=-1.0)
    for later_h, hidden in ((0.0, True), (0.75, True), (1.0, False)):
        found = alone(newest, 10.0 + later_h, of_type())
        assert (-17_800 not in found.sensors[0].raw.milli_c) is hidden


@pytest.mark.row("L3")
@pytest.mark.parametrize("c", [-2.0, -1.0, 0.0, 0.5, 2.0])
def test_from_minus_2_to_2_degc_nothing_is_an_error_value_whatever_is_declared(c: float) -> None:
    cold = seen(changed(10.0, c))
    assert without_errors(cold, [round(c * 1000)], END_MS + 20 * HOUR_MS) is cold


def test_two_sensors_with_error_values_and_silence_have_nobody_in_their_place_there() -> None:
    case = of_type()
    errors = recorded(lambda h: 64.0 if 10.0 <= h <= 12.0 and (h * 4) % 2 == 0 else slab(h), 20.0, from_h=-1.0)
    evidence_of = evidence(case, {EDGE: errors}, END_MS + 20 * HOUR_MS, elapsed_ms=20 * HOUR_MS)
    hidden = np.count_nonzero(errors.milli_c == 64_000)
    assert evidence_of.counted_h(5.0) == 20.0 - 0.5 * hidden


def test_before_the_pours_end_nothing_is_told_of_a_sensor() -> None:
    assert doubts([seen(changed(10.0, 40.0))], [], T0, None) == ()
    assert replace(seen(changed(10.0, 40.0)).doubt(Cause.SPIKE, "x"), refused=()).answered() is None
