"""Form sets: where each is; one leaves no pour whose strip is not done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import pytest
from pages_support import NOW, OTHER, SITE, row
from store_support import BAY

from cure.form_sets import move_set, places
from shared.errors import ActRefusedError, StoreError
from shared.models.acts import Act, MoveSet, SiteAct, instant
from shared.models.base import HOUR_MS, STRIP
from shared.models.decisions import GateState, LogEntry
from shared.ports import BoardRow

S = GateState


@dataclass
class Book:
    """A site book of moves, with the open pours as they stand."""

    rows: Sequence[BoardRow] = ()
    kept: list[Act] = field(default_factory=list)
    down: bool = False

    def acts_of(self, kind: str) -> Sequence[Act]:
        return [act for act in self.kept if act.kind == kind]

    def board(self) -> Sequence[BoardRow]:
        return self.rows

    def act_on_site(self, act: SiteAct, log: LogEntry) -> None:
        if self.down:
            raise StoreError("disk I/O error")
        assert log.body["kind"] == "form_set"
        self.kept.append(act)

    def move(self, who: str = "crew", at_ms: int = NOW, **fields: Any) -> MoveSet:
        act = MoveSet(at=instant(at_ms), who=who, **({"form_set": "set-a"} | fields))
        here: Any = self
        move_set(SITE, here, here, NOW, act)
        return act


def test_a_set_is_known_by_its_first_move_and_stays_since_it_came() -> None:
    book = Book()
    book.move(bay=BAY, happened=instant(NOW - 5 * HOUR_MS))
    book.move(bay=BAY, waits=OTHER)
    book.move(form_set="set-b")
    a, b = places(book.kept).values()
    assert (a.bay, a.waits, a.since_ms) == (BAY, OTHER, NOW - 5 * HOUR_MS)
    assert (b.bay, b.since_ms) == (None, NOW)
    book.move(form_set="set-b", gone=True)
    assert list(places(book.kept)) == ["set-a"]
    assert places([SITE.plan]) == {}  # type: ignore[list-item]  # of other acts nothing is told


@pytest.mark.parametrize("state", [s for s in S if s not in {S.DONE, S.DONE_WITHOUT_RELEASE}])
def test_a_set_leaves_no_pour_whose_strip_is_not_done(state: GateState) -> None:
    book = Book([row(BAY, {STRIP: state})])
    book.move(bay=BAY)
    for away in ({"bay": OTHER}, {}, {"gone": True}):
        with pytest.raises(ActRefusedError, match=rf"strip of {BAY}-p1 is {state}"):
            book.move(**away)
    book.move(bay=BAY, waits=OTHER)
    for off in (S.DONE, S.DONE_WITHOUT_RELEASE):
        book.rows = [row(BAY, {STRIP: off})]
        before = len(book.kept)
        book.move(bay=OTHER)
        assert len(book.kept) == before + 1
        book.move(bay=BAY)


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"bay": "9-z9"}, "no bay '9-z9'"),
        ({"waits": "9-z9"}, "no bay '9-z9'"),
        ({"bay": BAY, "waits": BAY}, "has the set already"),
        ({"form_set": "unknown", "gone": True}, "one that was here"),
        ({"gone": True, "bay": BAY}, "one that was here"),
        ({"bay": OTHER, "happened": instant(NOW - 6 * HOUR_MS)}, "after it came"),
        ({"bay": OTHER, "happened": instant(NOW + HOUR_MS)}, "not in the future"),
        ({"who": "viewer"}, "takes one of"),
    ],
)
def test_a_move_that_cannot_be_is_refused(fields: dict[str, Any], why: str) -> None:
    book = Book()
    book.move(bay=BAY, happened=instant(NOW - 5 * HOUR_MS))
    with pytest.raises(ActRefusedError, match=why):
        book.move(**fields)
    assert len(book.kept) == 1


def test_a_store_that_fails_refuses_the_move() -> None:
    with pytest.raises(ActRefusedError, match="disk"):
        Book(down=True).move(bay=BAY)
