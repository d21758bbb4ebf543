from __future__ import annotations

from dataclasses import replace
from typing import cast

import numpy as np
from days_support import Rows, key_of, shown_row
from store_support import POUR, T0

from alerts.wording import words
from cure.forecast import Course, Forecast
from cure.freeze_ahead import APART_MS, FreezeWatch, freezing_facts
from shared.clock import SimulatedClock
from shared.models.base import HOUR_MS, PourId
from shared.models.decisions import GateState
from shared.models.messages import MessageKind, NewMessage
from shared.ports import BoardBook, CureBook

TIMES = T0 + np.arange(49, dtype=np.int64) * HOUR_MS


def forecast(chance: float, low_c: float = -3.0, pour: PourId = POUR) -> Forecast:
    """Return one whose lowest tenth falls below 0 degC after 10 h, is coldest at 20 h and strong after 30 h."""
    hours = np.arange(49.0)
    low = low_c + np.abs(hours - 20.0) * -low_c / 10.0
    low[40:] = -20.0
    bound = Course(hours / 30.0 * 3.5, hours / 20.0 * 3.5, hours / 10.0 * 3.5)
    course = Course(low, low + 3.0, low + 6.0)
    return Forecast(pour, T0, T0, T0 + 120 * HOUR_MS, {}, chance, TIMES, course, course, bound)


def test_the_warning_says_from_when_how_likely_and_how_cold_before_the_strength_is_there() -> None:
    facts = freezing_facts(forecast(0.37))
    assert facts is not None
    assert (facts["from_ms"], facts["chance_percent"], facts["coldest_c"]) == (T0 + 11 * HOUR_MS, 37, -3.0)
    assert freezing_facts(forecast(0.10)) is None
    assert freezing_facts(forecast(float("nan"))) is None
    without = freezing_facts(replace(forecast(0.37), bound_mpa=None))
    assert without is not None
    assert without["coldest_c"] == -20.0
    rare = freezing_facts(forecast(0.2, low_c=-1e-9))
    assert rare is not None
    assert rare["chance_percent"] == 20


class AnyRows(Rows):
    """Rows that take messages of pours too."""

    def messages_of_site(self, messages: list[NewMessage]) -> int:  # type: ignore[override]  # a list is what comes
        new = [m for m in messages if all(key_of(m) != (t.pour, t.subject, t.epoch, t.kind) for t in self.told)]
        return len([self.tell(m) for m in new])


def test_each_pour_is_warned_of_not_more_than_once_in_twelve_hours_in_words_of_the_kind() -> None:
    rows, clock = AnyRows(rows=[shown_row(strip=GateState.RELEASED)]), SimulatedClock(T0)
    watch = FreezeWatch(rows.the_site, cast("BoardBook", rows), cast("CureBook", rows), clock)
    pour = rows.rows[0].pour.id
    assert watch.tell([forecast(0.05, pour=pour)]) == 0
    assert watch.tell([forecast(0.37, pour=pour), forecast(0.9, pour=PourId("closed"))]) == 1
    clock.set(T0 + APART_MS - 1)
    assert watch.tell([forecast(0.9, pour=pour)]) == 0
    clock.set(T0 + APART_MS)
    assert watch.tell([forecast(0.9, pour=pour)]) == 1
    assert [(m.kind, m.epoch) for m in rows.told] == [(MessageKind.FREEZING_AHEAD, 0), (MessageKind.FREEZING_AHEAD, 1)]
    text = words(rows.told[0], repeat=False)
    assert text.short.startswith("FREEZE AHEAD from ")
    assert "37 %" in text.body
    assert "lay covers, or heat the space below, before then" in text.body
    assert "Not released: walk, load" in text.body
    french = words(rows.told[0], repeat=False, language="fr").body
    assert "lay covers" not in french
