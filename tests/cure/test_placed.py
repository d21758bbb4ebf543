from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from cure_support import END_MS, Story, make_case, placed, site_of_all, warm
from hypothesis import given
from hypothesis import strategies as st
from store_support import AIR, BAY, EDGE, INSIDE, OTHER_BAY, T0, make_pour

from cure.placed import EARLIEST_MS, as_placed, now_of, removed
from cure.placed import placed as place
from shared.errors import ActRefusedError
from shared.models.acts import PlaceSensor, RemoveSensor, act_from, instant
from shared.models.base import HOUR_MS, STRIP, Ms, SensorId
from shared.models.decisions import GateState, HoldKind, Placement, Pour, PourState
from shared.models.messages import MessageKind
from shared.models.setup import Zone

NOW: Ms = END_MS + 3 * HOUR_MS
SITE = site_of_all()
NEW = SensorId("lg-07.1")
HERE = placed(EDGE, Zone.EXPOSED_EDGE)


def placing(sensor: str = NEW, bay: str = BAY, zone: str = "interior", at_ms: Ms = NOW, **fields: Any) -> PlaceSensor:
    whole = {"kind": "place_sensor", "at": instant(at_ms), "who": "installer", "sensor": sensor, "bay": bay}
    act = act_from({**whole, "zone": zone, **fields})
    assert isinstance(act, PlaceSensor)
    return act


def taking_out(sensor: str = EDGE, **fields: Any) -> RemoveSensor:
    return RemoveSensor(at=instant(NOW), who="installer", sensor=sensor, **{"why": "cable cut", **fields})


def after(act: PlaceSensor, *known: Placement, pour: Pour | None = None) -> list[Placement]:
    return place(act, SITE, known, pour, NOW)


@pytest.mark.row("L8")
def test_a_sensor_is_placed_from_now_on() -> None:
    (new,) = after(placing(position="grid C4", depth_mm=50))
    assert (new.sensor, new.bay, new.zone, new.from_ms, new.to_ms) == (NEW, BAY, Zone.INTERIOR, NOW, None)
    assert (new.position, new.depth_mm, new.interval_s, new.required, new.by) == ("grid C4", 50, 900, True, "installer")


@pytest.mark.parametrize(
    ("zone", "pour", "said", "required"),
    [
        ("interior", None, None, True),
        ("interior", make_pour(), None, True),
        ("interior", make_pour(end_ms=NOW), None, True),
        ("interior", make_pour(end_ms=NOW - 1), None, False),
        ("interior", make_pour(end_ms=NOW - 1), True, True),
        ("interior", None, False, False),
        ("air", None, None, False),
        ("air", None, True, False),
    ],
)
def test_a_sensor_is_required_when_it_comes_before_the_last_concrete(
    zone: str, pour: Pour | None, said: bool | None, required: bool
) -> None:
    (new,) = after(placing(zone=zone, required=said), pour=pour)
    assert new.required is required


@pytest.mark.row("L8")
def test_a_sensor_that_is_moved_ends_there_and_begins_here() -> None:
    other = placed(EDGE, Zone.EXPOSED_EDGE, required=False)
    was, now = after(placing(EDGE, OTHER_BAY), other)
    assert (was, now.bay, now.from_ms) == (replace(other, to_ms=NOW), OTHER_BAY, NOW)


def test_words_and_depth_are_corrected_in_their_place() -> None:
    (now,) = after(placing(EDGE, zone="exposed edge", depth_mm=20, position="north"), HERE)
    assert now == replace(HERE, depth_mm=20, position="north", by="installer")


@pytest.mark.parametrize("fields", [{"interval_s": 600}, {"required": False, "second_person": "qc", "why": "spare"}])
def test_what_a_pour_is_judged_by_begins_anew(fields: dict[str, Any]) -> None:
    was, now = after(placing(EDGE, zone="exposed edge", depth_mm=50, **fields), HERE)
    assert (was.to_ms, now.from_ms, now.to_ms) == (NOW, NOW, None)


REFUSED: list[tuple[PlaceSensor, str]] = [
    (placing(EDGE, zone="exposed edge", depth_mm=50), "lies there already"),
    (placing(EDGE, OTHER_BAY), "needs a second person"),
    (placing(EDGE, zone="interior"), "needs a second person"),
    (placing(EDGE, zone="air"), "needs a second person"),
    (placing(EDGE, zone="exposed edge", required=False, depth_mm=50), "needs a second person"),
    (placing(EDGE, OTHER_BAY, second_person="installer", why="x"), "needs a second person"),
    (placing(EDGE, OTHER_BAY, second_person="crew", why="x"), "needs a second person"),
    (placing(EDGE, OTHER_BAY, second_person="qc"), "say why"),
    (placing(depth_mm=101), "100 mm thick"),
    (placing(interval_s=1801), "at least every 1800 s"),
    (placing(happened=instant(NOW + 1), second_person="qc"), "neither in the future"),
    (placing(happened=instant(NOW - EARLIEST_MS - 1), second_person="qc"), "nor more than 14 days ago"),
    (placing(happened=instant(NOW - 1)), "takes a second person"),
]


@pytest.mark.row("O13", "O14", "L7")
@pytest.mark.parametrize(("act", "why"), REFUSED)
def test_what_cannot_be_accepted_is_refused_with_its_mend(act: PlaceSensor, why: str) -> None:
    with pytest.raises(ActRefusedError, match=why):
        after(act, *([HERE] if act.sensor == EDGE else []))


@pytest.mark.row("L8", "O4")
def test_a_second_person_lets_it_begin_earlier_but_never_within_another_placement() -> None:
    ended = replace(HERE, to_ms=NOW - HOUR_MS)
    early = placing(EDGE, OTHER_BAY, happened=instant(NOW - HOUR_MS), second_person="qc")
    assert after(early, ended)[-1].from_ms == NOW - HOUR_MS
    with pytest.raises(ActRefusedError, match="lay in 2-b1 until"):
        after(placing(EDGE, OTHER_BAY, happened=instant(NOW - HOUR_MS - 1), second_person="qc"), ended)


def test_a_required_sensor_is_removed_by_two_and_another_by_one() -> None:
    with pytest.raises(ActRefusedError, match="needs a second person"):
        removed(taking_out(), SITE, [HERE], NOW)
    assert removed(taking_out(second_person="engineer"), SITE, [HERE], NOW) == [replace(HERE, to_ms=NOW)]
    spare = replace(HERE, required=False)
    assert removed(taking_out(), SITE, [spare], NOW) == [replace(spare, to_ms=NOW)]
    with pytest.raises(ActRefusedError, match="lies in no bay"):
        removed(taking_out(), SITE, [replace(HERE, to_ms=T0)], NOW)


STEP = st.tuples(st.sampled_from([BAY, OTHER_BAY]), st.sampled_from([*Zone]), st.integers(0, 5), st.booleans())


@pytest.mark.row("L8")
@given(st.lists(STEP, max_size=12))
def test_a_sensor_never_lies_in_two_places_whatever_is_entered(steps: list[tuple[str, Zone, int, bool]]) -> None:
    known: list[Placement] = []
    for n, (bay, zone, back_h, out) in enumerate(steps):
        now = NOW + n * HOUR_MS
        earlier = {"happened": instant(now - back_h * HOUR_MS)} if back_h else {}
        try:
            if out:
                known = removed(taking_out(NEW, second_person="qc"), SITE, known, now)
            else:
                act = placing(NEW, bay, zone, now, second_person="qc", why="moved", **earlier)
                known = place(act, SITE, known, None, now)
        except ActRefusedError:
            continue
        spans = [(p.from_ms, p.to_ms) for p in known]
        assert all(to_ms is not None for _, to_ms in spans[:-1])
        lasting = [(a, 2**62 if b is None else b) for a, b in spans if b is None or b > a]
        assert all(a_to <= b_from for (_, a_to), (b_from, _) in pairwise(lasting))


def with_placements(story: Story, *placements: Placement) -> Story:
    story.case = replace(story.case, placements=tuple(placements))
    return story


def applied(story: Story, *acts: PlaceSensor | RemoveSensor) -> Story:
    """Change the placements of a story as the site book does."""
    for act in acts:
        known = [p for p in story.case.placements if p.sensor == act.sensor]
        others = [p for p in story.case.placements if p.sensor != act.sensor]
        if isinstance(act, PlaceSensor):
            new = place(act, SITE, known, story.case.pour, story.now_ms)
        else:
            new = removed(act, SITE, known, story.now_ms)
        with_placements(story, *others, *(p for p in new if p.bay == BAY))
    return story


@pytest.mark.row("O13", "O14")
def test_a_required_sensor_taken_out_shuts_the_bay_until_the_engineer_says_otherwise() -> None:
    story = applied(warm(20), taking_out(second_person="qc"))
    assert [h.kind for h in story.round().holds] == [HoldKind.REQUIREMENT_LOWERED]
    assert story.run(40).state(STRIP) is GateState.HOLD


@pytest.mark.row("O14")
def test_a_required_sensor_moved_to_another_zone_of_its_bay_shuts_it_too() -> None:
    moved = placing(EDGE, zone="interior", required=True, second_person="qc", why="entered wrongly")
    story = applied(warm(20), moved)
    (hold,) = story.round().holds
    assert (hold.kind, hold.owner) == (HoldKind.REQUIREMENT_LOWERED, "engineer")
    assert "lg-01.1 is required in another zone than before: interior" in hold.reason


@pytest.mark.row("O13", "L8")
def test_a_release_is_withdrawn_when_a_sensor_that_it_rests_on_begins_anew() -> None:
    story = warm(30)
    story.press("sign", "qc", operations=["strip"])
    assert story.state(STRIP) is GateState.RELEASED
    anew = placing(EDGE, zone="exposed edge", interval_s=600, required=True)
    story.add(EDGE, story.now_ms + 1, 18.0)
    applied(story, anew)
    story.run(31)
    assert story.state(STRIP) is GateState.WITHDRAWN
    assert MessageKind.WITHDRAWAL in story.told()


@pytest.mark.row("L8")
def test_a_sensor_placed_late_earns_nothing_before_it_came() -> None:
    story = warm(20)
    story.profile = {**story.profile, NEW: lambda _: 18.0}
    for quarter in range(-8, 81):
        story.add(NEW, END_MS + quarter * HOUR_MS // 4, 18.0)
    applied(story, placing(required=True, at_ms=story.now_ms))
    story.run(30)
    judged = story.results[-1].state.estimate
    assert judged is not None
    assert judged.counted_h["5"] == pytest.approx(10.0)
    assert story.state(STRIP) is GateState.CURING


def test_what_was_cold_stays_cold_when_the_sensor_is_taken_out() -> None:
    story = applied(warm(2), taking_out(INSIDE, second_person="qc"))
    story.add(INSIDE, END_MS + HOUR_MS + 1, 0.3)
    assert HoldKind.FREEZE_LOCKED in [h.kind for h in story.round().holds]


def test_what_was_cold_after_it_was_taken_out_is_no_cold_of_this_bay() -> None:
    story = applied(warm(2), taking_out(INSIDE, second_person="qc"))
    story.add(INSIDE, story.now_ms, 18.0)
    story.now_ms += HOUR_MS
    story.add(INSIDE, story.now_ms, -3.0)
    assert HoldKind.FREEZE_LOCKED not in [h.kind for h in story.round().holds]


def test_an_answer_about_a_sensor_holds_for_the_place_that_it_was_given_for() -> None:
    answers = {"doubtful": {EDGE: {"in air": True}, INSIDE: {"stuck": True}}}
    first = as_placed(PourState(memory=answers), make_case().placements)
    assert first.memory["doubtful"] == answers["doubtful"]
    assert as_placed(first, make_case().placements) is first
    moved = [replace(p, from_ms=NOW) if p.sensor == EDGE else p for p in make_case().placements]
    assert as_placed(first, moved).memory["doubtful"] == {EDGE: {"in air": False}, INSIDE: {"stuck": True}}


def test_now_of_finds_where_a_sensor_lies() -> None:
    assert now_of([replace(HERE, to_ms=T0), HERE]) == HERE
    assert now_of([placed(AIR, Zone.AIR, to_ms=T0)]) is None


@pytest.mark.parametrize(("required", "locked"), [(None, False), (True, True)])
def test_a_sensor_that_comes_late_to_help_makes_no_old_concrete_young(required: bool | None, locked: bool) -> None:
    story = warm(60)
    applied(story, placing(required=required, at_ms=story.now_ms))
    story.now_ms += HOUR_MS
    story.add(NEW, story.now_ms, 0.3)
    assert (HoldKind.FREEZE_LOCKED in [h.kind for h in story.round().holds]) is locked
