"""Form sets of a planned sequence: one under a curing bay is not free, and nobody makes its hour up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest
from pages_support import NOW, OTHER, SITE, row
from store_support import BAY

from cure.form_sets import Place
from cure.plan_request import FormSet
from cure.plan_sets import NOTHING_KNOWN, Sequenced, Standing, Yard, yard_of
from cure.turnaround import after_work
from shared.errors import PlanError
from shared.models.acts import instant
from shared.models.base import HOUR_MS, STRIP, BayId, Ms
from shared.models.decisions import GateState
from shared.ports import BoardRow

S = GateState
READY = NOW + 20 * HOUR_MS


def place(name: str, bay: str | None = None, waits: str | None = None) -> Place:
    return Place(name, bay, waits, NOW - HOUR_MS, "crew")


def yard(
    *places: Place, named: tuple[str, ...] = (), rows: tuple[BoardRow, ...] = (), ready: Ms | None = READY, **of: Any
) -> Yard:
    standing = Standing({p.form_set: p for p in places}, rows, lambda _: ready)
    wanted = replace(Sequenced([BayId("next")], 5.0, 0.8, SITE, NOW), **of)
    return yard_of([FormSet(name=name) for name in named], standing, wanted)


def moved(from_ms: Ms) -> Ms:
    return after_work(from_ms, 5.0, SITE.site.shift, SITE.site.zone)


def curing(state: GateState = S.CURING) -> BoardRow:
    return row(BAY, {STRIP: state})


def test_a_set_under_a_curing_bay_is_free_when_the_cautious_hour_is_past_and_a_crew_has_moved_it() -> None:
    found = yard(place("set-a", BAY), place("set-b"), rows=(curing(),))
    assert found.free_ms == {"set-a": moved(READY), "set-b": 0}
    assert found.notes[0].startswith(f"set set-a is in bay {BAY}, and expected to be free ")
    # An hour that has passed and did not come makes none earlier than now.
    assert yard(place("set-a", BAY), rows=(curing(),), ready=NOW - 5 * HOUR_MS).free_ms == {"set-a": moved(NOW)}


def test_where_no_hour_is_foreseen_a_named_set_is_refused_and_another_left_out_and_said() -> None:
    held = curing(S.HOLD)
    with pytest.raises(
        PlanError, match=rf"set set-a is in bay {BAY}, of whose strip \(hold\) no hour is foreseen: say"
    ):
        yard(place("set-a", BAY), named=("set-a",), rows=(held,), ready=None)
    with pytest.raises(PlanError, match="no hour is foreseen"):
        yard(place("set-a", BAY), rows=(held,), ready=None)
    found = yard(place("set-a", BAY), place("set-b"), rows=(held,), ready=None)
    assert found.free_ms == {"set-b": 0}
    assert found.notes == (f"left out: set set-a is in bay {BAY}, of whose strip (hold) no hour is foreseen",)


def test_an_hour_kept_with_nine_in_ten_does_for_no_more() -> None:
    with pytest.raises(PlanError, match="foreseen with 90 %, not 95 %"):
        yard(place("set-a", BAY), rows=(curing(),), chance=0.95)
    assert yard(place("set-a", BAY), rows=(curing(),), chance=0.9).free_ms == {"set-a": moved(READY)}


@pytest.mark.parametrize("state", [S.DONE, S.DONE_WITHOUT_RELEASE])
def test_a_set_whose_forms_are_off_is_moved_from_now_on(state: GateState) -> None:
    assert yard(place("set-a", BAY), rows=(curing(state),), ready=None).free_ms == {"set-a": moved(NOW)}


def test_a_set_is_kept_for_the_bay_that_has_it_or_that_it_waits_for() -> None:
    bays = [BayId("next"), BayId(OTHER)]
    found = yard(place("set-a", OTHER), place("set-b", BAY, "next"), rows=(curing(),), bays=bays)
    assert found.kept_for == {OTHER: "set-a", "next": "set-b"}
    assert found.free_ms == {"set-a": 0, "set-b": moved(READY)}
    others = "waits for bay 3-b9, which is not of this sequence"
    assert yard(place("set-a", None, "3-b9"), place("set-b")).notes == (f"left out: set set-a {others}",)
    assert "where nothing cures" in yard(place("set-a", OTHER), place("set-b")).notes[0]


def test_who_says_from_when_a_set_is_free_is_believed() -> None:
    told = [FormSet(name="set-a", free=instant(READY)), FormSet(name="new")]
    standing = Standing({"set-a": place("set-a", BAY)}, (curing(S.HOLD),), lambda _: None)
    found = yard_of(told, standing, Sequenced([BayId("next")], 5.0, 0.8, SITE, NOW))
    assert found.free_ms == {"set-a": READY, "new": 0}
    assert found.notes == ("set new is not on the site book: it is taken to be free",)
    with pytest.raises(PlanError, match="named once"):
        yard(named=("a", "a"))


def test_without_any_set_one_is_taken_and_that_is_said() -> None:
    found = yard_of([], NOTHING_KNOWN, Sequenced([BayId("next")], 5.0, 0.8, SITE, NOW))
    assert (found.free_ms, len(found.notes)) == ({"A": 0}, 1)
    free: Mapping[str, Ms] = yard(named=("x", "y")).free_ms
    assert free == {"x": 0, "y": 0}
    assert yard(named=("x",)).notes == ()
