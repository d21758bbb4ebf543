"""What people hand in, and what the site book is told of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest
from cure_support import END_MS, make_case
from store_support import BAY, POUR, make_site, site_dict

from cure.acts import PourActs
from cure.rounds import Rounds
from shared.act_checks import LATEST_MS
from shared.clock import SimulatedClock
from shared.errors import ActRefusedError, StoreError
from shared.models.acts import Act, SiteAct, act_from
from shared.models.base import HOUR_MS, Ms, PourId, SensorId
from shared.models.decisions import GateState, LogEntry, Pour
from shared.models.messages import MessageKind
from shared.models.readings import Arrival, Series
from shared.ports import PourCase, Readings, Result

NOW = END_MS + 10 * HOUR_MS


class Book:
    """A site book with one pour."""

    def __init__(self) -> None:
        self.opened: list[tuple[Act, Pour, LogEntry]] = []
        self.recorded: list[Result] = []
        self.on_site: list[tuple[SiteAct, LogEntry]] = []

    def due(self, *asked: object) -> Any:
        raise AssertionError(asked)

    open_pours = since_start = due

    def case(self, pour: PourId) -> PourCase:
        assert pour == POUR
        return make_case(arrivals={p.sensor: Arrival(p.sensor, 1, NOW, NOW) for p in make_case().placements})

    def record(self, case: PourCase, result: Result, *also: tuple[PourCase, Result]) -> bool:
        assert (case.pour.id, also) == (result.pour.id, ())
        self.recorded.append(result)
        return True

    def open_pour(self, act: Act, pour: Pour, log: LogEntry) -> None:
        if pour.id == "taken":
            raise StoreError("there is a pour taken already")
        self.opened.append((act, pour, log))

    def pour_named(self, pour: PourId) -> Pour | None:
        return make_case().pour if pour == POUR else None

    def act_on_site(self, act: SiteAct, log: LogEntry) -> None:
        self.on_site.append((act, log))

    def open_pour_in(self, *asked: object) -> Pour | None:
        raise AssertionError(asked)

    placements_of = due

    def place(self, *asked: object) -> bool:
        raise AssertionError(asked)

    messages_of_site = place


class Store:
    """A store of readings that is empty, or fails as a test wants."""

    def __init__(self, error: Exception | None = None) -> None:
        self.error = error

    def between(self, sensor: SensorId, after: Ms, through: Ms) -> Series:
        assert after < through, sensor
        if self.error is not None:
            raise self.error
        return Series(np.empty(0, np.int64), np.empty(0, np.int64))


def acts(book: Book, error: Exception | None = None) -> PourActs:
    readings: Readings = Store(error)  # type: ignore[assignment] # acts read, and nothing else
    people = [{"id": "viewer", "role": "viewer"}, *site_dict()["recipient"]]
    return PourActs(make_site(recipient=people), Rounds(readings, book, SimulatedClock(NOW)))


def act(kind: str, at_ms: Ms = NOW, **fields: Any) -> Any:
    return act_from(
        {"kind": kind, "at": datetime.fromtimestamp(at_ms / 1000, UTC), "who": "qc", "pour": POUR, **fields}
    )


REQUIRED = {"operation": "strip", "all": [{"lower_bound_mpa": 5.0}]}


def site_act(kind: str, **fields: Any) -> Any:
    return act_from({"kind": kind, "at": datetime.fromtimestamp(NOW / 1000, UTC), "who": "engineer", **fields})


def require(**fields: Any) -> Any:
    return site_act("require", **{"requirement": REQUIRED, "second_person": "super", "why": "rev 3", **fields})


@pytest.mark.row("O6", "M18")
def test_the_engineer_writes_a_requirement_with_a_second_person_and_the_log_says_it_in_words() -> None:
    book, new = Book(), require(bay=BAY)
    acts(book).apply_to_site(new)
    ((kept, log),) = book.on_site
    assert (kept, log.who, log.what, log.body["second_person"]) == (new, "engineer", "act", "super")
    assert log.body["sentence"] == "lower bound of strength 5.0 MPa (726 psi)"


@pytest.mark.row("O6", "O14", "M18")
@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"who": "super"}, "takes one of: engineer"),
        ({"who": "qc"}, "takes one of: engineer"),
        ({"who": "passer-by"}, "nobody called"),
        ({"second_person": "engineer"}, "takes a second person"),
        ({"second_person": "viewer"}, "takes a second person"),
        ({"second_person": "passer-by"}, "takes a second person"),
        ({"bay": "9-b9"}, "no bay '9-b9' in the site file; there are: 2-b1, 2-b2"),
        ({"at": datetime.fromtimestamp((NOW + LATEST_MS + 1) / 1000, UTC)}, "before its time"),
    ],
)
def test_a_requirement_is_written_by_nobody_else_and_by_nobody_alone(fields: dict[str, Any], why: str) -> None:
    book = Book()
    with pytest.raises(ActRefusedError, match=why):
        acts(book).apply_to_site(require(**fields))
    assert book.on_site == []


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"signed_by": ["viewer"]}, '"viewer"; allowed: each once, of: "superintendent", "qc", "engineer"'),
        ({"signed_by": ["crew", "qc"]}, '"crew"; allowed'),
        ({"all": [{"tested_percent": 75}]}, "nothing; allowed: the specified strength"),
    ],
)
def test_a_requirement_that_nobody_could_meet_or_sign_is_refused(changes: dict[str, Any], why: str) -> None:
    book = Book()
    with pytest.raises(ActRefusedError, match=f"strip could never be released here: {why}"):
        acts(book).apply_to_site(require(requirement={**REQUIRED, **changes}))
    assert book.on_site == []


@pytest.mark.row("O8")
def test_a_requirement_that_takes_more_people_than_there_are_is_refused() -> None:
    book = Book()
    asked = {**REQUIRED, "signed_by": ["superintendent"], "each_signs": True}
    some = acts(book)
    some.apply_to_site(require(requirement=asked))
    nobody = [person for person in site_dict()["recipient"] if person["id"] != "super"]
    site = make_site(recipient=[*nobody, {"id": "super", "role": "qc"}])
    with pytest.raises(ActRefusedError, match='none of: "superintendent"'):
        PourActs(site, some.rounds).apply_to_site(require(requirement=asked))
    assert len(book.on_site) == 1


@pytest.mark.parametrize("who", ["super", "qc", "engineer"])
@pytest.mark.parametrize("place", [{}, {"bay": BAY}, {"pour": POUR}])
def test_the_desk_puts_documents_on_file(who: str, place: dict[str, str]) -> None:
    book, new = Book(), site_act("document", who=who, name="shoring plan", reference="S-12 rev 2", **place)
    acts(book).apply_to_site(new)
    assert [kept for kept, _ in book.on_site] == [new]


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"who": "viewer"}, "takes one of"),
        ({"bay": "9-b9"}, "no bay '9-b9'"),
        ({"pour": "2-b9-p1"}, "no pour called '2-b9-p1'"),
    ],
)
def test_a_document_that_cannot_be_put_on_file_is_refused_with_its_reason(fields: dict[str, Any], why: str) -> None:
    book = Book()
    with pytest.raises(ActRefusedError, match=why):
        acts(book).apply_to_site(site_act("document", name="shoring plan", reference="S-12", **fields))
    assert book.on_site == []


def test_a_start_opens_a_pour_of_the_bays_mix_at_the_hour_it_happened() -> None:
    book = Book()
    happened = datetime.fromtimestamp((NOW - HOUR_MS) / 1000, UTC)
    start = act("pour_start", bay=BAY, pour="2-b1-p2", happened=happened)
    acts(book).apply(start)
    ((opened, pour, log),) = book.opened
    assert (opened, pour) == (start, Pour(PourId("2-b1-p2"), BAY, make_case().pour.mix, NOW - HOUR_MS))
    assert (log.who, log.what, log.at_ms, log.body["kind"]) == ("qc", "act", NOW, "pour_start")


def test_a_start_without_an_hour_is_now() -> None:
    book = Book()
    acts(book).apply(act("pour_start", bay=BAY, pour="2-b1-p2"))
    assert book.opened[0][1].start_ms == NOW


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"bay": "9-b9"}, r"no bay '9-b9' in the site file; there are: 2-b1, 2-b2"),
        ({"bay": BAY, "who": "passer-by"}, "nobody called"),
        ({"bay": BAY, "who": "viewer"}, "takes one of"),
        ({"bay": BAY, "pour": "taken"}, "already"),
        ({"bay": BAY, "happened": datetime.fromtimestamp((NOW + 1) / 1000, UTC)}, "in the future"),
    ],
)
def test_a_start_that_cannot_be_is_refused_with_its_reason(fields: dict[str, Any], why: str) -> None:
    book = Book()
    with pytest.raises(ActRefusedError, match=why):
        acts(book).apply(act("pour_start", **fields))
    assert book.opened == []


@pytest.mark.row("C3")
@pytest.mark.parametrize(("ahead_ms", "taken"), [(LATEST_MS, True), (LATEST_MS + 1, False)])
@pytest.mark.parametrize("kind", ["stop", "pour_end"])
def test_an_act_from_the_future_is_refused(kind: str, ahead_ms: int, taken: bool) -> None:
    book = Book()
    new = act(kind, NOW + ahead_ms, happened=None) if kind == "pour_end" else act(kind, NOW + ahead_ms, why="crack")
    if kind == "pour_end":
        new = new.model_copy(update={"happened": datetime.fromtimestamp(END_MS / 1000, UTC)})
    if taken:
        acts(book).apply(new)
        assert book.recorded[0].act == new
        return
    with pytest.raises(ActRefusedError, match="before its time"):
        acts(book).apply(new)
    assert book.recorded == []


@pytest.mark.parametrize("fields", [{"kind": "stop", "why": "crack"}, {"kind": "sign", "operations": ["strip"]}])
def test_an_act_on_a_pour_that_nobody_knows_is_refused(fields: dict[str, Any]) -> None:
    with pytest.raises(ActRefusedError, match=r"no pour called '2-b9-p1'; `slabhour status` lists them"):
        acts(Book()).apply(act(**fields, pour="2-b9-p1"))


def test_an_act_is_recorded_with_the_round_that_it_makes() -> None:
    book = Book()
    new = act("stop", why="crack")
    acts(book).apply(new)
    (result,) = book.recorded
    assert result.act == new
    assert {g.state for g in result.gates} == {GateState.WITHDRAWN}


def test_an_act_that_is_refused_records_nothing() -> None:
    book = Book()
    with pytest.raises(ActRefusedError, match="nothing to sign"):
        acts(book).apply(act("sign", operations=["strip"]))
    assert not book.recorded


@pytest.mark.row("S2", "E4")
@pytest.mark.parametrize("error", [StoreError("down"), ZeroDivisionError("a bug")])
def test_stop_shuts_whatever_the_readings_do(error: Exception) -> None:
    book = Book()
    acts(book, error).apply(act("stop", why="crack"))
    assert {g.state for g in book.recorded[0].gates} == {GateState.WITHDRAWN}
    assert {m.kind for m in book.recorded[0].messages} == {MessageKind.WITHDRAWAL}


@pytest.mark.row("S2")
def test_without_readings_nothing_but_stop_is_taken() -> None:
    book, ended = Book(), act("pour_end", happened=datetime.fromtimestamp(END_MS / 1000, UTC))
    with pytest.raises(StoreError):
        acts(book, StoreError("down")).apply(ended)
    assert book.recorded == []


@pytest.mark.row("C8")
def test_where_a_right_clock_is_required_gates_are_suspended_while_it_is_not() -> None:
    class Unsure(SimulatedClock):
        right = False

        def synchronised(self) -> bool:
            return self.right

    class Required(Book):
        def case(self, pour: PourId) -> PourCase:
            strict = make_site(site={**site_dict()["site"], "clock_sync": "required"})
            return replace(super().case(pour), site=strict)

    book, clock = Required(), Unsure(NOW)
    rounds = Rounds(Store(), book, clock)  # type: ignore[arg-type] # rounds read, and nothing else
    assert {g.state for g in rounds.run(POUR).gates} == {GateState.SUSPENDED}
    clock.right = True
    assert GateState.SUSPENDED not in {g.state for g in rounds.run(POUR).gates}
    other = Rounds(Store(), Book(), Unsure(NOW))  # type: ignore[arg-type] # as above
    assert GateState.SUSPENDED not in {g.state for g in other.run(POUR).gates}
