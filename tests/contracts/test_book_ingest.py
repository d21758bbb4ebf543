"""The contract of `IngestBook`."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import select
from store_support import AIR, BAY, EDGE, INSIDE, OTHER_BAY, POUR, T0, make_log, make_pour, make_result, make_start

from ingest.canary import CANARY
from shared.errors import StoreError
from shared.models.base import STRIP, LoggerId, Ms, PourId, SensorId
from shared.models.decisions import GateState as S
from shared.models.readings import Arrival, Conflict, Heard, Reason, Refused
from shared.ports import NewArrivals
from shared.sequence import Followed, Start
from shared.store import tables as t
from shared.store.book import SiteBook

LATER = T0 + 600_000
OTHER_POUR = PourId("2-b2-p1")
OTHER_EDGE = SensorId("lg-11.1")


def arrivals(
    sensor: SensorId = EDGE, changed: int = 1, oldest: Ms = T0, newest: Ms = LATER, received: Ms = LATER + 2_000
) -> NewArrivals:
    return NewArrivals(sensor, changed, oldest, newest, received)


def settle(book: SiteBook) -> None:
    """Record a round of each pour, so that none is due before an hour from now."""
    for pour in (POUR, OTHER_POUR):
        case = book.cure.case(pour)
        assert book.cure.record(case, make_result(case, at_ms=T0 + 3_600_000))
    assert book.cure.due(LATER, 10) == []


def test_placements_are_those_of_the_set_up(book: SiteBook) -> None:
    placed = book.ingest.placements()
    assert len(placed) == 8
    edge = next(p for p in placed if p.sensor == EDGE)
    assert (edge.bay, edge.zone, edge.depth_mm, edge.interval_s, edge.required) == (BAY, "exposed edge", 50, 900, True)
    assert (edge.from_ms, edge.to_ms) == (0, None)
    assert not next(p for p in placed if p.sensor == AIR).required


@pytest.mark.row("R2")
def test_numbers_of_messages_that_never_came_are_named_until_they_come(book: SiteBook) -> None:
    logger = LoggerId("lg-01")
    heard = [Heard(logger, LATER, "a", n) for n in (1, 2, 6)]
    book.ingest.note([], [], [], heard)
    book.ingest.note([], [], [], [Heard(logger, LATER, "a", 9), Heard(LoggerId("lg-02"), LATER)])
    assert book.board.missing() == [Followed(logger, "a", 9, ((3, 5), (7, 8)))]
    book.ingest.note([], [], [], [Heard(logger, LATER, "a", n) for n in (8, 4, 7, 5, 3)])
    assert book.board.missing() == []


def test_what_the_service_sends_to_itself_has_no_numbers_that_never_came(book: SiteBook) -> None:
    book.ingest.note([], [], [], [Heard(CANARY, LATER + n, sequence=LATER + n) for n in (0, 60_000)])
    assert book.board.missing() == []
    said = book.service.heard(CANARY)
    assert said is not None
    assert said.sequence == LATER + 60_000


def test_a_sensor_never_heard_has_no_arrival(book: SiteBook) -> None:
    book.ingest.note([arrivals()], [], [], [])
    assert set(book.ingest.arrival([EDGE, INSIDE])) == {EDGE}


def test_each_change_of_a_sensor_raises_its_revision_once(book: SiteBook) -> None:
    book.ingest.note([arrivals(changed=7)], [], [], [])
    book.ingest.note([arrivals(changed=1, newest=LATER - 1, received=LATER + 5_000), arrivals(INSIDE)], [], [], [])
    assert book.ingest.arrival([EDGE, INSIDE]) == {
        EDGE: Arrival(EDGE, 2, LATER, LATER + 5_000, rewritten=2),
        INSIDE: Arrival(INSIDE, 1, LATER, LATER + 2_000, rewritten=1),
    }


def test_copies_are_heard_but_are_not_news(book: SiteBook) -> None:
    book.ingest.note([arrivals()], [], [], [])
    settle(book)
    book.ingest.note([arrivals(changed=0, received=LATER + 90_000)], [], [], [])
    assert book.ingest.arrival([EDGE]) == {EDGE: Arrival(EDGE, 1, LATER, LATER + 90_000, rewritten=1)}
    assert book.cure.due(LATER, 10) == []


def test_what_is_only_newer_rewrites_nothing_and_what_is_not_does(book: SiteBook) -> None:
    book.ingest.note([arrivals()], [], [], [])
    marks = []
    for oldest, newest, changed in ((1, 2, 2), (3, 3, 0), (4, 4, 1), (5, 6, 2), (-1, 7, 3)):
        book.ingest.note([arrivals(oldest=LATER + oldest, newest=LATER + newest, changed=changed)], [], [], [])
        found = book.ingest.arrival([EDGE])[EDGE]
        marks.append((found.revision, found.rewritten))
    assert marks == [(2, 1), (3, 1), (4, 1), (5, 1), (6, 6)]


@pytest.mark.row("H2")
def test_a_reading_newer_than_all_noted_is_news_even_when_the_store_knew_it(book: SiteBook) -> None:
    """Killed between merge and note: the second time the store says that nothing changed."""
    book.ingest.note([arrivals()], [], [], [])
    settle(book)
    book.ingest.note([arrivals(changed=0, newest=LATER + 1)], [], [], [])
    assert book.ingest.arrival([EDGE])[EDGE].revision == 2
    assert book.cure.due(LATER, 10) == [POUR]


def test_news_makes_the_pours_of_its_bay_due_and_no_other(book: SiteBook) -> None:
    settle(book)
    book.ingest.note([arrivals(OTHER_EDGE)], [], [], [])
    assert book.cure.due(LATER, 10) == [OTHER_POUR]


@pytest.mark.row("A14")
def test_of_a_finished_pour_only_what_is_late_or_doubtful_is_looked_at_at_once(book: SiteBook) -> None:
    hour_ms, gone = 3_600_000, iter(range(1, 99))

    def due_after(*, unfinished: Collection[str] = (), conflicts: Sequence[Conflict] = (), **changes: Ms) -> bool:
        """Let a reading come an interval after the last one, but for `changes`."""
        at = LATER + next(gone) * 900_000
        for pour in (POUR, OTHER_POUR):
            case = book.cure.case(pour)
            done = [replace(g, state=S.RELEASED if o in unfinished else S.DONE) for o, g in case.gates.items()]
            assert book.cure.record(case, make_result(case, gates=tuple(done), at_ms=LATER + 900 * hour_ms))
        oldest, received = changes.get("oldest", at), changes.get("received", at + 5_000)
        came = arrivals(oldest=oldest, newest=at, received=received)
        book.ingest.note([] if conflicts else [came], [], conflicts, [])
        return book.cure.due(at, 10) == [POUR]

    assert due_after(), "the first of a sensor"
    assert not due_after()
    assert due_after(unfinished=(STRIP,))
    assert due_after(oldest=T0), "what a logger kept of hours told before"
    assert not due_after()
    assert due_after(received=LATER + 9 * hour_ms), "what came late"
    assert due_after(conflicts=[Conflict(EDGE, T0, 1, 2, LATER)])
    assert not due_after()


def test_news_of_a_sensor_without_a_place_makes_nothing_due(book: SiteBook) -> None:
    settle(book)
    book.ingest.note([arrivals(SensorId("lg-77.1"))], [], [], [])
    assert book.cure.due(LATER, 10) == []


def test_a_late_reading_of_a_closed_pour_does_not_disturb_the_next_one_but_is_counted(book: SiteBook) -> None:
    book.cure.open_pour(make_start("2-b1-p2", BAY, LATER), make_pour("2-b1-p2", start_ms=LATER), make_log())
    before = book.cure.case(POUR)
    book.ingest.note([arrivals(oldest=T0, newest=T0 + 1)], [], [], [])
    assert book.cure.case(POUR).input_revision == before.input_revision + 1


def refusal(**changes: object) -> Refused:
    whole = Refused(T0, "slabhour/millrace/r/lg-01", b"\xff\x00{", Reason.NOT_UTF8, "byte 0", SensorId("lg-01.1"))
    return replace(whole, **changes)  # type: ignore[arg-type]  # a test's builder: fields by name


def test_a_refusal_is_kept_whole_and_once(book: SiteBook) -> None:
    book.ingest.note([], [refusal()], [], [])
    book.ingest.note([], [refusal(received_ms=LATER), refusal()], [], [])
    assert book.board.refused() == [refusal()]


def test_refusals_that_differ_in_topic_payload_reason_or_detail_are_all_kept(book: SiteBook) -> None:
    different = [
        refusal(),
        refusal(topic="slabhour/millrace/r/lg-02"),
        refusal(payload=b""),
        refusal(reason=Reason.NOT_JSON),
        refusal(detail="byte 1", sensor=None),
    ]
    book.ingest.note([], different, [], [])
    assert book.board.refused() == different


@pytest.mark.row("C3")
def test_an_hour_that_once_lay_ahead_is_known_again_and_no_other(book: SiteBook) -> None:
    ahead = refusal(reason=Reason.CLOCK_FUTURE, sensor=EDGE, taken_ms=LATER)
    past = refusal(reason=Reason.CLOCK_PAST, sensor=INSIDE, taken_ms=LATER, detail="long ago")
    for _ in range(2):
        book.ingest.note([], [ahead, past, refusal(sensor=EDGE)], [], [])
    asked = [(EDGE, LATER), (EDGE, LATER + 1), (INSIDE, LATER), (AIR, LATER)]
    assert set(book.ingest.refused_ahead(asked)) == {(EDGE, LATER)}
    assert not book.ingest.refused_ahead([])
    assert ahead in book.board.refused()
    # As many as a file brings at once.
    many = [(sensor, LATER + n) for sensor in (EDGE, INSIDE) for n in range(-12_000, 12_000)]
    assert set(book.ingest.refused_ahead(many)) == {(EDGE, LATER)}


CONFLICT = Conflict(EDGE, T0 + 1, 9_500, 12_000, LATER)


def test_a_conflict_is_kept_once_and_shown_with_its_pour(book: SiteBook) -> None:
    for received in (LATER, LATER + 1):
        book.ingest.note([], [], [replace(CONFLICT, received_ms=received)], [])
    assert book.board.conflicts() == [CONFLICT]
    assert book.cure.case(POUR).conflicts == (CONFLICT,)
    assert book.cure.case(OTHER_POUR).conflicts == ()


def test_a_conflict_makes_its_pour_due_even_when_the_stored_value_stays(book: SiteBook) -> None:
    settle(book)
    case = book.cure.case(POUR)
    book.ingest.note([], [], [CONFLICT], [])
    assert book.cure.due(LATER, 10) == [POUR]
    assert not book.cure.record(case, make_result(case))
    settle(book)
    book.ingest.note([], [], [CONFLICT], [])
    assert book.cure.due(LATER, 10) == []


def test_what_a_logger_says_of_itself_replaces_what_it_said_before(book: SiteBook, tmp_path: Path) -> None:
    logger = LoggerId("lg-01")
    book.ingest.note([], [], [], [Heard(logger, T0, "b1", 7, 81.5, None)])
    book.ingest.note([], [], [], [Heard(logger, LATER, None, 8, None, -97.0)])
    book.ingest.note([], [], [], [Heard(logger, T0 + 1, "b0", 1, 99.0, -1.0)])
    with book.writing() as connection:
        row = connection.execute(select(t.heard)).one()
    assert tuple(row) == ("lg-01", LATER, "b1", 8, 81.5, -97.0)


def test_a_note_that_cannot_be_written_whole_is_not_written_at_all(book: SiteBook) -> None:
    with pytest.raises(StoreError):
        book.ingest.note([arrivals()], [refusal(), refusal(topic="x", received_ms=2**70)], [CONFLICT], [])
    assert book.ingest.arrival([EDGE]) == {}
    assert (book.board.refused(), book.board.conflicts()) == ([], [])


def test_bays_do_not_share_sensors_in_this_site(book: SiteBook) -> None:
    assert {p.bay for p in book.ingest.placements()} == {BAY, OTHER_BAY}


@pytest.mark.row("R2", "R4")
def test_the_numbers_of_messages_are_followed_by_logger(book: SiteBook) -> None:
    logger, other = LoggerId("lg-01"), LoggerId("lg-02")
    assert book.ingest.followed({logger, other}) == {}
    book.ingest.note((), (), (), [Heard(logger, T0 + n, boot="a7", sequence=n) for n in (1, 2, 5)])
    assert book.ingest.followed({logger, other}) == {logger: Followed(logger, "a7", 5, ((3, 4),))}
    book.ingest.note((), (), (), [Heard(logger, T0 + 9, boot="a7", sequence=3)])
    assert book.ingest.followed([logger])[logger].missing == ((4, 4),)
    book.ingest.note((), (), (), [Heard(logger, T0 + 10, boot="b1", sequence=7), Heard(other, T0 + 10, sequence=1)])
    book.ingest.note((), (), (), [Heard(logger, T0 + 11, boot="a7", sequence=4), Heard(logger, T0 + 12, "b1", 8)])
    found = book.ingest.followed([logger, other])
    assert (found[logger].newest, found[logger].before) == (8, (Start("a7", 1, 5),))
    assert found[other].before == ()


def test_placements_are_told_of_the_sensors_asked_for_and_of_no_others(book: SiteBook) -> None:
    every = book.ingest.placements()
    some = {EDGE, AIR, SensorId("lg-77.1")}
    assert list(book.ingest.placed(some)) == [p for p in every if p.sensor in some]
    assert list(book.ingest.placed(())) == []


def test_a_logger_is_placed_when_any_of_its_sensors_is(book: SiteBook) -> None:
    known = LoggerId(EDGE.partition(".")[0])
    # Names that begin alike, and one that is no logger's at all, are others.
    others = {LoggerId(f"{known}0"), LoggerId(known[:-1]), LoggerId("lg-77")}
    assert set(book.ingest.placed_loggers({known, *others})) == {known}
    assert set(book.ingest.placed_loggers(())) == set()
