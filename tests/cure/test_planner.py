"""What to do before a pour: the least protection, the best start."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest
from planner_support import JUDGED, MONDAY_MS, answering, pour, weather

from cure.forecast import FOR_EVER_MS, Slabwork
from cure.planner import Offer, Protection, Question, best_start, least_protection, moved, protected, start_of
from shared.models.base import HOUR_MS, STRIP

WORK = pour(weather(-2.0, 6.0))
WANTED = Question(JUDGED, STRIP, MONDAY_MS + 32 * HOUR_MS)


def resistance(work: Slabwork) -> float:
    return work.covers[0].value if work.covers else 0.0


def quicker_under_covers(work: Slabwork) -> Sequence[float]:
    """Ready after 40 h, 10 h sooner for each 0.35 of a cover that stays a day, and 12 h for heating; ten members."""
    long = bool(work.covers) and work.covers[0].to_ms - work.covers[0].from_ms >= 24 * HOUR_MS
    hours = 40.0 - (resistance(work) / 0.035 if long else 0.0) - (12.0 if work.heated else 0.0)
    return [hours + n for n in range(10)]


def test_the_least_protection_is_found_and_all_that_is_less_was_tried() -> None:
    found = least_protection(WORK, WANTED, Offer(), answering(quicker_under_covers))
    # By 30 h after the end with 8 of 10 members: 22 h for the first, 20 h with 0.70 for a day; no cover of 12 h helps.
    assert found.best is not None
    assert found.best.protection == Protection(0.70, 2.0, 24.0)
    assert (found.best.chance, found.best.ready_ms) == (1.0, MONDAY_MS + (2 + 27) * HOUR_MS)
    assert found.tried[-1] is found.best
    assert all(one.protection.effort < found.best.protection.effort for one in found.tried[:-1])


def test_what_freezes_is_never_proposed_and_what_cannot_be_met_is_said() -> None:
    thin = answering(lambda _: [20.0], lambda work: 0.5 if resistance(work) < 0.5 else 0.1)
    found = least_protection(WORK, WANTED, Offer(), thin)
    assert found.best is not None
    assert found.best.protection.cover_m2_k_per_w == 0.70
    never = least_protection(WORK, WANTED, Offer(below_c=()), answering(lambda _: [math.inf]))
    assert never.best is None
    assert len(never.tried) == 13
    assert never.nearest.chance == 0.0
    unknown = answering(lambda _: [20.0], lambda _: math.nan)
    assert least_protection(WORK, WANTED, Offer(), unknown).best is None


def test_without_a_wanted_hour_it_must_have_one_at_all() -> None:
    only_warm = answering(lambda work: [30.0] if work.heated else [math.inf])
    found = least_protection(WORK, Question(JUDGED, STRIP), Offer(), only_warm)
    assert found.best is not None
    assert (found.best.protection.below_c, found.best.protection.cover_m2_k_per_w) == (5.0, 0.0)
    assert found.best.chance is None


def test_the_best_start_is_the_likeliest_or_the_one_that_needs_forms_for_the_fewest_hours() -> None:
    def by_hour(work: Slabwork) -> Sequence[float]:
        late = (start_of(work) - MONDAY_MS) / HOUR_MS
        return [30.0 - late / 2.0, 36.0 - late / 2.0]

    starts = [MONDAY_MS + n * HOUR_MS for n in range(0, 12, 2)]
    quickest = best_start(WORK, Protection(), Question(JUDGED, STRIP), starts, answering(by_hour))
    assert quickest.best is not None
    assert quickest.best.start_ms == starts[-1]
    asked = Question(JUDGED, STRIP, MONDAY_MS + 38 * HOUR_MS)
    wanted = best_start(WORK, Protection(), asked, starts, answering(by_hour))
    assert wanted.best is not None
    assert wanted.best.start_ms == starts[0]
    none = best_start(WORK, Protection(), asked, starts, answering(lambda _: [math.inf]))
    assert none.best is None
    assert len(none.tried) == len(starts)


def test_a_pour_that_is_moved_takes_its_protection_along() -> None:
    work = protected(WORK, Protection(0.35, 1.0, 10.0, 15.0, 20.0))
    later = moved(work, MONDAY_MS + 5 * HOUR_MS)
    assert start_of(later) == MONDAY_MS + 5 * HOUR_MS
    assert (later.covers[0].from_ms, later.covers[0].to_ms) == tuple(MONDAY_MS + h * HOUR_MS for h in (8, 18))
    assert (later.heated[0].from_ms, later.heated[0].to_ms) == tuple(MONDAY_MS + h * HOUR_MS for h in (5, 25))
    assert moved(protected(WORK, Protection(0.35)), MONDAY_MS + HOUR_MS).covers[0].to_ms == FOR_EVER_MS
    assert protected(work, Protection()).covers == protected(work, Protection()).heated == ()


@pytest.mark.parametrize(
    "wrong",
    [(math.nan,), (-0.1,), (0.3, -1.0), (0.3, 2.0, 0.0), (0.3, 2.0, None, math.nan), (0.3, 2.0, None, 10.0, -1.0)],
)
def test_a_protection_that_cannot_be_is_refused(wrong: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match=r"cover has|space is heated"):
        Protection(*wrong)


@pytest.mark.parametrize("chance", [0.0, 1.0, math.nan])
def test_a_chance_of_none_or_all_is_refused(chance: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        Question(JUDGED, STRIP, None, chance)
