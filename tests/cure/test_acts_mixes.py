"""Who puts a calibration in force, and which."""

from __future__ import annotations

from typing import Any, cast

import pytest
from cure_support import END_MS
from store_support import make_calibration, make_site, site_dict

from cure.acts import PourActs
from cure.rounds import Rounds
from shared.clock import SimulatedClock
from shared.errors import ActRefusedError, StoreError
from shared.models.acts import PutInForce, SiteAct, instant
from shared.models.base import HOUR_MS
from shared.models.decisions import LogEntry
from shared.ports import CureBook, Readings

NOW = END_MS + 10 * HOUR_MS


class Book:
    """The part of a site book that keeps acts about the site."""

    def __init__(self, error: StoreError | None = None) -> None:
        self.kept: list[tuple[SiteAct, LogEntry]] = []
        self.error = error

    def act_on_site(self, act: SiteAct, log: LogEntry) -> None:
        if self.error is not None:
            raise self.error
        self.kept.append((act, log))


def put(book: Book, who: str = "qc", second: str = "super", **changes: Any) -> PutInForce:
    calibration = make_calibration(changes.pop("mix", "c32-f"), 2, made_on=changes.pop("made_on", "2025-10-01"))
    calibration = calibration.model_copy(update={"digest": changes.pop("digest", calibration.digested())})
    act = PutInForce(at=instant(NOW), who=who, calibration=calibration, second_person=second, why="new cement")
    people = [{"id": "viewer", "role": "viewer"}, *site_dict()["recipient"]]
    rounds = Rounds(cast("Readings", None), cast("CureBook", book), SimulatedClock(NOW))
    PourActs(make_site(recipient=people), rounds).put_in_force(act)
    return act


@pytest.mark.parametrize(("who", "second"), [("qc", "super"), ("engineer", "qc")])
def test_qc_or_the_engineer_puts_a_calibration_in_force_with_a_second_person(who: str, second: str) -> None:
    book = Book()
    act = put(book, who, second)
    [(kept, log)] = book.kept
    assert kept == act
    assert (log.who, log.body["calibration"]["version"], log.body["second_person"]) == (who, 2, second)


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"who": "super"}, "this takes one of: qc, engineer"),
        ({"who": "viewer"}, "this takes one of: qc, engineer"),
        ({"second": "qc"}, "this takes a second person"),
        ({"second": "viewer"}, "this takes a second person"),
        ({"mix": "c99"}, "there is no mix 'c99'"),
        ({"made_on": "2999-10-19"}, "made on 2999-10-19, which has not been yet: calibrate again"),
        ({"digest": None}, "its digest does not fit"),
        ({"digest": "0" * 64}, "its digest does not fit"),
    ],
)
def test_nobody_else_nobody_alone_and_nothing_that_was_changed(changes: dict[str, Any], why: str) -> None:
    book = Book()
    with pytest.raises(ActRefusedError, match=why):
        put(book, **changes)
    assert book.kept == []


def test_what_the_book_refuses_is_said() -> None:
    with pytest.raises(ActRefusedError, match="the next is 3"):
        put(Book(StoreError("the next is 3")))
