from __future__ import annotations

import numpy as np
import pytest
from forecast_support import MEMBERS, work
from store_support import EDGE, END, INSIDE

from cure.assimilate import begun, learned, reading_c
from cure.draws import shared
from cure.ensemble import simulate
from cure.forecast import Slabwork
from shared.models.base import HOUR_MS
from shared.models.readings import Series

TRUE = 7
"""The member of another pour that is the truth here."""


def truth(hours: int) -> tuple[dict[str, Series], np.ndarray]:
    """Return what the sensors of a true pour read, and the standard scores it was made of."""
    other = work("the truth")
    start = begun(other, MEMBERS)
    (run,) = simulate([other], [start], [2 * hours])
    milli = np.round(run.points_c[:, :, TRUE] * 1000.0).astype(np.int64)
    return {s: Series(run.times_ms, milli[:, k]) for k, s in enumerate((EDGE, INSIDE, END))}, start.drawn[:, TRUE]


def through(of: Slabwork, hours: float) -> int:
    return of.placed_ms + round(hours * HOUR_MS)


def test_readings_teach_the_placing_and_bring_the_members_to_what_is_read() -> None:
    said, scores = truth(18)
    w = work(readings=said)
    ((_, now),) = learned([w], [begun(w, 300)], [through(w, 18)])
    placing = shared(now.drawn, "placing")
    assert float(placing.std()) < 0.5
    assert float(placing.mean()) == pytest.approx(float(scores[0]), abs=3.0 * float(placing.std()))
    read = said[INSIDE].milli_c[-1] / 1000.0
    middle = now.state.temperature_c[4]
    assert float(middle.mean()) == pytest.approx(read, abs=1.0)
    ((_, blind),) = learned([work()], [begun(work(), 300)], [through(w, 18)])
    assert float(middle.std()) < 0.9 * float(blind.state.temperature_c[4].std())
    assert np.array_equal(blind.drawn, begun(work(), 300).drawn)


def test_going_on_from_what_is_carried_gives_what_the_whole_record_gives() -> None:
    said, _ = truth(40)
    w, other = work(readings=said), work("beside", readings=said)
    ((keep, _),) = learned([w], [begun(w, MEMBERS)], [through(w, 30.3)])
    assert keep.through_ms == through(w, 24)
    (carried, _) = learned([w, other], [keep, begun(other, MEMBERS)], [through(w, 40), through(w, 6)])
    ((whole, now),) = learned([w], [begun(w, MEMBERS)], [through(w, 40)])
    for one, same in ((carried[0], whole), (carried[1], now)):
        assert np.array_equal(one.drawn, same.drawn)
        assert np.array_equal(one.state.temperature_c, same.state.temperature_c)
        assert np.array_equal(one.state.age_h, same.state.age_h)


def test_a_reading_far_from_every_member_teaches_nothing() -> None:
    said, _ = truth(12)
    spoiled = said[INSIDE].milli_c.copy()
    spoiled[10] = 80_000
    w = work(readings={INSIDE: Series(said[INSIDE].taken_ms, spoiled)})
    without = np.delete(np.arange(len(spoiled)), [9, 10, 11])
    clean = work(readings={INSIDE: Series(said[INSIDE].taken_ms[without], spoiled[without])})
    ((_, one),) = learned([w], [begun(w, 300)], [through(w, 12)])
    ((_, other),) = learned([clean], [begun(clean, 300)], [through(w, 12)])
    apart = one.state.temperature_c[4].mean() - other.state.temperature_c[4].mean()
    assert abs(float(apart)) < 0.2


def test_a_hole_in_the_record_is_not_bridged() -> None:
    series = Series(np.array([0, HOUR_MS, 4 * HOUR_MS], np.int64), np.array([10_000, 12_000, 6_000], np.int64))
    asked = np.array([-1, 0, HOUR_MS // 2, 2 * HOUR_MS, 4 * HOUR_MS, 5 * HOUR_MS], np.int64)
    assert reading_c(series, asked) == pytest.approx([np.nan, 10.0, 11.0, np.nan, 6.0, np.nan], nan_ok=True)
    nothing = Series(np.empty(0, np.int64), np.empty(0, np.int64))
    assert np.all(np.isnan(reading_c(nothing, asked)))
