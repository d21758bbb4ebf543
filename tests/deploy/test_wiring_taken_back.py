"""The start of a pour is taken back, on real stores: what goes on, what is withdrawn, what stays to be read."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from deploy_support import POUR, START_MS, act, history, little_service, poured

from cure.dashboard.record_pages import has_record, void
from cure.ledger import ledger
from deploy.wiring import Service
from shared.clock import SimulatedClock
from shared.errors import ActRefusedError
from shared.models.base import HOUR_MS, LOAD, MINUTE_MS, STRIP, WALK, Ms, PourId
from shared.models.decisions import GateState
from shared.models.messages import PERMITS, MessageKind

S = GateState
OVER = PourId("2-b1-p2")
RELEASED_MS = START_MS + 27 * HOUR_MS
OVER_MS = RELEASED_MS + HOUR_MS
BACK_MS = OVER_MS + 2 * HOUR_MS
READINGS = history(32)


def look(service: Service, clock: SimulatedClock, at_ms: Ms) -> None:
    """Read what has come through an hour, and judge."""
    before_ms = clock.now()
    clock.set(at_ms)
    service.intake.take_rows([r for r in READINGS if before_ms < r.received_ms <= at_ms])
    service.rounds.run_due()


@contextmanager
def started_over(folder: Path) -> Iterator[tuple[Service, SimulatedClock]]:
    """Lend a site whose strip and walk are released, and over whose pour another one was started an hour later."""
    with little_service(folder) as (service, clock):
        for one in poured():
            clock.set(one.at_ms)
            service.apply(one)
        for minutes in (0, 15, 45):
            look(service, clock, RELEASED_MS - HOUR_MS + minutes * MINUTE_MS)
        service.apply(act("sign", clock.now(), "qc-one", pour=POUR, operations=["strip", "walk"]))
        look(service, clock, OVER_MS)
        service.apply(act("pour_start", OVER_MS, bay="2-b1", pour=OVER))
        look(service, clock, BACK_MS)
        yield service, clock


def states(service: Service) -> dict[str, dict[str, GateState]]:
    """Return where each gate of each open pour stands."""
    return {row.pour.id: {op: gate.state for op, gate in row.gates.items()} for row in service.book.board.board()}


def take_back(service: Service, clock: SimulatedClock, pour: str = OVER) -> None:
    """Take a start back now."""
    service.apply(act("take_back", clock.now(), pour=pour, why="wrong bay"))


def test_the_pour_before_goes_on_and_what_was_released_of_it_is_withdrawn_and_told(tmp_path: Path) -> None:
    with started_over(tmp_path) as (service, clock):
        assert states(service) == {OVER: dict.fromkeys((STRIP, WALK, LOAD), S.NOT_SET_UP)}
        take_back(service, clock)
        assert states(service) == {POUR: {STRIP: S.WITHDRAWN, WALK: S.WITHDRAWN, LOAD: S.CURING}}
        (row,) = service.book.board.board()
        assert row.state.estimate is not None
        assert row.state.estimate.evidence_ms == BACK_MS - 15 * MINUTE_MS, "the hours since it was ended count as ever"
        told = [m for m in service.book.board.messages() if m.kind is MessageKind.WITHDRAWAL]
        assert {(m.pour, m.subject, m.facts["cause"]) for m in told} == {
            (POUR, operation, "another pour was started here by mistake: wrong bay") for operation in (STRIP, WALK)
        }
        look(service, clock, BACK_MS + HOUR_MS)
        look(service, clock, BACK_MS + 2 * HOUR_MS)
        assert states(service)[POUR][STRIP] is S.WITHDRAWN, "nothing renews it by itself"
        assert service.book.service.verify_log()[0] > 0


def test_a_void_pour_is_off_the_board_and_the_ledger_and_stays_to_be_read(tmp_path: Path) -> None:
    with started_over(tmp_path) as (service, clock):
        take_back(service, clock)
        case = service.book.cure.case(OVER)
        assert case.pour.closed_ms == BACK_MS
        assert case.state.memory["taken_back"] == {"who": "super", "at_ms": BACK_MS, "why": "wrong bay"}
        assert void(service.book.board) == {OVER: "2-b1"}
        assert has_record(service.book.board, OVER)
        assert {row.pour for row in ledger(service.book.board)} == {POUR}
        kinds = [one.kind for one in service.book.board.acts()]
        assert kinds == ["pour_start", "pour_end", "sign", "pour_start", "take_back"]
        assert not [m for m in service.book.board.messages() if m.pour == OVER and m.kind in PERMITS]
        with pytest.raises(ActRefusedError, match="was taken back already"):
            take_back(service, clock)
        with pytest.raises(ActRefusedError):
            service.apply(act("sign", clock.now(), "qc-one", pour=OVER, operations=["strip"]))


def test_stop_that_was_pressed_meanwhile_shuts_every_gate_of_the_pour_that_goes_on(tmp_path: Path) -> None:
    with started_over(tmp_path) as (service, clock):
        service.apply(act("stop", clock.now(), who="anybody", pour=OVER, why="crack"))
        take_back(service, clock)
        assert set(states(service)[POUR].values()) == {S.WITHDRAWN}


def test_a_start_stands_once_something_is_done_of_it_or_a_later_pour_has_ended_it(tmp_path: Path) -> None:
    with started_over(tmp_path) as (service, clock):
        service.apply(act("test_result", clock.now(), "qc-one", pour=OVER, method="pullout", mpa=9.0, position="C4"))
        with pytest.raises(ActRefusedError, match="a test of its concrete"):
            take_back(service, clock)
        with pytest.raises(ActRefusedError, match="a later pour was started"):
            take_back(service, clock, POUR)
        assert list(states(service)) == [OVER]


def test_a_start_that_ended_no_pour_leaves_the_bay_empty_and_free(tmp_path: Path) -> None:
    with little_service(tmp_path) as (service, clock):
        service.apply(poured()[0])
        take_back(service, clock, POUR)
        assert states(service) == {}
        clock.set(START_MS + HOUR_MS)
        service.apply(act("pour_start", clock.now(), bay="2-b1", pour=OVER))
        take_back(service, clock)
        assert states(service) == {}, "a void pour is not what a later start has ended"


def test_acts_played_again_give_the_same_book(tmp_path: Path) -> None:
    (tmp_path / "one").mkdir()
    (tmp_path / "two").mkdir()
    logs = []
    for folder in ("one", "two"):
        with started_over(tmp_path / folder) as (service, clock):
            take_back(service, clock)
            logs.append(service.book.board.log_after(0))
    assert logs[0] == logs[1]
