"""What people hand in about where sensors lie, and what the site book is told of it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any, cast

import pytest
from cure_support import END_MS, make_case
from store_support import BAY, EDGE, make_site, site_dict

from cure.acts import TRIES, PourActs
from cure.rounds import Rounds
from shared.act_checks import LATEST_MS
from shared.clock import SimulatedClock
from shared.errors import ActRefusedError
from shared.models.acts import LoggerAct, act_from, instant
from shared.models.base import HOUR_MS, BayId, SensorId
from shared.models.decisions import LogEntry, Placement, Pour
from shared.ports import CureBook, Readings

NOW = END_MS + 10 * HOUR_MS


class Book:
    """The part of a site book that knows where sensors lie."""

    def __init__(self) -> None:
        self.placements = [*make_case().placements]
        self.logged: list[LogEntry] = []
        self.beaten = 0

    def placements_of(self, sensor: SensorId) -> Sequence[Placement]:
        return [p for p in self.placements if p.sensor == sensor]

    def open_pour_in(self, bay: BayId) -> Pour | None:
        return make_case().pour if bay == BAY else None

    def place(self, act: LoggerAct, before: Sequence[Placement], after: Sequence[Placement], log: LogEntry) -> bool:
        assert {p.sensor for p in (*before, *after)} == {act.sensor}
        if self.beaten:
            self.beaten -= 1
            return False
        self.placements = [*(p for p in self.placements if p not in before), *after]
        self.logged.append(log)
        return True


def enter(book: Book, new: LoggerAct) -> None:
    people = [{"id": "viewer", "role": "viewer"}, *site_dict()["recipient"]]
    # Nothing but placements is looked at.
    rounds = Rounds(cast("Readings", None), cast("CureBook", book), SimulatedClock(NOW))
    PourActs(make_site(recipient=people), rounds).apply_to_logger(new)


def act(kind: str, **fields: Any) -> Any:
    return act_from({"kind": kind, "at": instant(NOW), "who": "engineer", **fields})


def test_a_sensor_is_placed_and_the_log_says_where_it_lay_and_where_it_lies() -> None:
    book = Book()
    enter(book, act("place_sensor", sensor="lg-07.1", bay=BAY, zone="top"))
    (new,) = book.placements_of(SensorId("lg-07.1"))
    assert (new.bay, new.zone, new.from_ms, new.to_ms, new.by) == (BAY, "top", NOW, None, "engineer")
    (log,) = book.logged
    assert (log.who, log.what, log.body["was"]) == ("engineer", "act", [])
    assert log.body["is"] == ["2-b1, top, not required, from 2025-11-25T03:00:00+00:00"]


@pytest.mark.row("O13", "O14")
def test_a_required_sensor_is_taken_out_by_two_people_and_by_nobody_alone() -> None:
    book = Book()
    with pytest.raises(ActRefusedError, match="needs a second person"):
        enter(book, act("remove_sensor", sensor=EDGE, why="cable cut"))
    assert book.logged == []
    enter(book, act("remove_sensor", sensor=EDGE, why="cable cut", second_person="qc"))
    assert [p.to_ms for p in book.placements_of(EDGE)] == [NOW]
    assert book.logged[0].body["second_person"] == "qc"


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"who": "viewer"}, "takes one of: installer"),
        ({"bay": "9-b9"}, "no bay '9-b9'"),
        ({"at": datetime.fromtimestamp((NOW + LATEST_MS + 1) / 1000, UTC)}, "before its time"),
    ],
)
def test_a_placement_that_cannot_be_accepted_changes_nothing(fields: dict[str, Any], why: str) -> None:
    book = Book()
    with pytest.raises(ActRefusedError, match=why):
        enter(book, act("place_sensor", **{"sensor": "lg-07.1", "bay": BAY, "zone": "top", **fields}))
    assert book.logged == []


def test_a_sensor_that_two_people_place_at_once_is_placed_by_one_after_the_other() -> None:
    book, place = Book(), act("place_sensor", sensor="lg-07.1", bay=BAY, zone="top")
    book.beaten = TRIES - 1
    enter(book, place)
    assert len(book.logged) == 1
    book.beaten = TRIES
    with pytest.raises(ActRefusedError, match="by somebody else"):
        enter(book, act("place_sensor", sensor="lg-08.1", bay=BAY, zone="top"))
