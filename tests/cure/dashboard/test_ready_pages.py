"""Before the pour: what is not known is missing, and what a person saw holds for a night."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import pytest
from cure_support import make_case
from pages_support import NOW, Bench, bench_of
from store_support import BAY, opened_book

from cure.dashboard.ready import TICK_HOLDS_MS
from cure.ticks import TICKS
from shared.models.acts import FileDocument, instant
from shared.models.base import HOUR_MS
from shared.models.messages import Delivery, DeliveryState
from shared.models.people import Role
from shared.models.readings import Arrival
from shared.ports import MixRow


@pytest.fixture(scope="module")
def shared_bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        yield bench_of(book)


@pytest.fixture
def bench(shared_bench: Bench) -> Bench:
    case = make_case()
    assert case.calibration is not None
    # One bay is enough, and with everything.
    (bay,) = [b for b in case.site.bay if b.id == BAY]
    people = [{"id": r.value, "role": r.value, "channels": [{"kind": "inbox"}]} for r in Role]
    people_there = type(case.site).model_validate(
        {**case.site.model_dump(mode="json", exclude_none=True), "recipient": people}
    )
    bay = bay.model_copy(update={"construction_load_kpa": 2.4, "neighbours": (), "below": ()})
    board = shared_bench.board
    board.of_site = people_there.model_copy(update={"bay": (bay,)})
    board.placed = case.placements
    board.arrived = [Arrival(p.sensor, 1, NOW - 60_000, NOW - 60_000) for p in case.placements]
    board.known_mixes = [MixRow(case.mix, case.calibration, in_force=True, pours=(), tests=())]
    board.done = [
        FileDocument(at=instant(NOW - HOUR_MS), who="qc", name=name, reference="seen", bay=BAY)
        for name in TICKS.values()
    ]
    board.rows, board.sent = (), ()
    shared_bench.acts.clear()
    return shared_bench


def missing(bench: Bench) -> list[str]:
    text = bench.signed_in(Role.VIEWER).get("/ready").text
    return [
        part.partition("</b>")[0] for part in text.partition("<main")[2].split("<li>") for part in part.split("<b>")[1:]
    ]


def test_a_bay_that_has_everything_lacks_nothing(bench: Bench) -> None:
    assert missing(bench) == []


def test_weather_that_nobody_told_lately_is_missing(bench: Bench) -> None:
    kept = bench.beside
    for heard_ms, said in ((None, "never heard"), (NOW - 99 * HOUR_MS, "last heard"), (NOW + 1, "last heard")):
        bench.beside = replace(kept, weather_heard=lambda heard_ms=heard_ms: heard_ms)  # type: ignore[misc]
        [line] = missing(bench)
        assert f"no forecast ({said}" in line
    bench.beside = kept


def test_what_is_missing_is_said_one_by_one(bench: Bench) -> None:
    board, whole = bench.board, replace(bench.board)
    (mix,) = board.known_mixes
    first = board.placed[0].sensor
    bay = board.of_site.bay[0].model_copy(update={"construction_load_kpa": None})
    plan = board.of_site.plan.model_copy(update={"adopted_by": None, "document": None})
    failed = Delivery(9, 1, "qc", 0, DeliveryState.ESCALATED)  # type: ignore[arg-type]
    over = mix.calibration.model_copy(update={"valid_until": date(2025, 11, 24)})
    planning = mix.calibration.model_copy(update={"fit_for": "planning"})
    changes: list[tuple[dict[str, object], str]] = [
        ({"placed": ()}, "No required sensor is placed in the concrete."),
        ({"arrived": board.arrived[1:]}, f"Not heard: {first}"),
        ({"arrived": [replace(a, newest_received_ms=NOW - 9 * HOUR_MS) for a in board.arrived]}, f"Not heard: {first}"),
        ({"known_mixes": ()}, "has no calibration that is fit"),
        ({"known_mixes": [replace(mix, in_force=False)]}, "has no calibration that is fit"),
        ({"known_mixes": [replace(mix, calibration=over)]}, "has no calibration that is fit"),
        ({"known_mixes": [replace(mix, calibration=planning)]}, "has no calibration that is fit"),
        ({"of_site": board.of_site.model_copy(update={"plan": plan})}, "has not adopted the requirements"),
        ({"of_site": board.of_site.model_copy(update={"bay": (bay,)})}, "No construction load is on file."),
        ({"sent": [failed]}, "whose newest message failed: qc"),
        ({"done": ()}, "Covers on site: not seen"),
        ({"done": ()}, "free of ice and snow: not seen"),
    ]
    for change, said in changes:
        for name in ("placed", "arrived", "known_mixes", "of_site", "sent", "done"):
            setattr(board, name, change.get(name, getattr(whole, name)))
        assert any(said in line for line in missing(bench)), said


def test_what_a_person_saw_holds_for_a_night_and_is_of_its_bay(bench: Bench) -> None:
    def seen(at_ms: int, bay: str = BAY) -> list[FileDocument]:
        return [FileDocument(at=instant(at_ms), who="qc", name=n, reference="seen", bay=bay) for n in TICKS.values()]

    for at_ms, bay, wanted in (
        (NOW - TICK_HOLDS_MS, BAY, 0),
        (NOW - TICK_HOLDS_MS - 1, BAY, 2),
        (NOW + 1, BAY, 2),
        (NOW, "2-b2", 2),
    ):
        bench.board.done = seen(at_ms, bay)
        assert len(missing(bench)) == wanted


def test_a_tick_is_an_act_on_file_for_the_bay(bench: Bench) -> None:
    qc, crew = bench.signed_in(Role.QC), bench.signed_in(Role.CREW)
    assert "I saw the covers" not in bench.signed_in(Role.VIEWER).get("/ready").text
    assert "I saw the covers" in crew.get("/ready").text
    assert "I saw the covers" in qc.get("/ready").text
    send = {"csrf": bench.csrf(qc), "what": "ice-free"}
    assert qc.post(f"/ready/{BAY}", send).status_code == 303
    (act,) = bench.acts
    assert isinstance(act, FileDocument)
    assert (act.name, act.bay, act.pour) == (TICKS["ice-free"], BAY, None)
    assert qc.post(f"/ready/{BAY}", {**send, "what": "all"}).status_code == 422
    assert qc.post("/ready/9-z9", send).status_code == 404
    assert len(bench.acts) == 1
