from __future__ import annotations

from pathlib import Path

import cbor2
import pytest
from deploy_support import END_MS, POUR, START_MS, act, history, little_service, poured, write_site
from influx_support import NEEDS_INFLUXDB, influx_running, influx_setup
from ordered_server import Answer, ordered
from store_support import make_reading, make_setup

from alerts.transport import RecordingTransport
from deploy.folders import data_folder, in_files, with_data
from deploy.replay import replay
from deploy.wiring import build
from shared.clock import SimulatedClock
from shared.errors import ActRefusedError, LockedError, StoreError
from shared.models.base import HOUR_MS, MINUTE_MS, STRIP, SensorId
from shared.models.decisions import DoubtKind, GateState
from shared.sitefile import load


@pytest.mark.row("J6")
def test_a_second_service_on_the_same_folder_is_refused(tmp_path: Path) -> None:
    with little_service(tmp_path):
        second = build(load(tmp_path / "site.toml"), clock=SimulatedClock(START_MS), transport=RecordingTransport())
        with pytest.raises(LockedError, match="owns"):
            second.__enter__()


def test_the_data_folder_is_beside_the_site_file_or_where_it_is_put(tmp_path: Path) -> None:
    setup = load(write_site(tmp_path))
    assert data_folder(setup) == (tmp_path / "var").resolve()
    assert data_folder(with_data(setup, tmp_path / "else")) == (tmp_path / "else").resolve()


def test_what_was_decided_is_there_after_a_restart(tmp_path: Path) -> None:
    readings = history(26)
    with little_service(tmp_path) as (service, clock):
        for one in poured():
            clock.set(one.at_ms)
            service.apply(one)
        clock.set(readings[-1].received_ms)
        service.intake.take_rows(readings)
        service.rounds.run_due()
        clock.set(clock.now() + 61_000)
        service.rounds.run_due()
        assert service.book.board.board()[0].gates[STRIP].state is GateState.MET
    with little_service(tmp_path, END_MS + 26 * HOUR_MS) as (service, clock):
        service.rounds.run_due()
        assert service.book.board.board()[0].gates[STRIP].state is not GateState.RELEASED
        assert service.book.service.verify_log()[0] > 0


def test_a_confirmation_goes_to_alerts_and_the_rest_to_cure(tmp_path: Path) -> None:
    with little_service(tmp_path) as (service, clock):
        clock.set(START_MS)
        with pytest.raises(ActRefusedError, match="nothing to confirm"):
            service.apply(act("confirm", START_MS, message=1))
        service.apply(poured()[0])
        service.apply(act("stop", START_MS, who="anybody", pour=POUR, why="crack"))
        service.dispatcher.run_due()
        withdrawal = service.book.board.messages()[0]
        service.apply(act("confirm", START_MS, message=withdrawal.no))
        service.apply(act("reopen", START_MS, "super", pour=POUR, operation=withdrawal.subject, cause="looked at"))


def test_an_act_from_the_future_is_refused(tmp_path: Path) -> None:
    with little_service(tmp_path) as (service, _), pytest.raises(ActRefusedError, match="before its time"):
        service.apply(act("pour_start", START_MS + HOUR_MS, bay="2-b1", pour=POUR))


def test_the_topics_of_the_site_file_are_those_that_are_read(tmp_path: Path) -> None:
    topics = (
        '[[topic]]\nfilter = "cbor/{logger}"\nformat = "senml+cbor"\n'
        '[[topic]]\nfilter = "board/{logger}/{channel}"\nformat = "text"\nunit = "degF"\n'
    )
    setup = load(write_site(tmp_path, **{"[[mix]]": f"{topics}[[mix]]"}))
    clock = SimulatedClock(START_MS)
    with build(setup, clock=clock, transport=RecordingTransport()) as service:
        assert service.intake.subscriptions() == [("cbor/+", 1), ("board/+/+", 0)]
        pack = cbor2.dumps([{0: "lg-01.1", 1: "Cel", 6: START_MS // 1000, 2: 17.5}])
        service.intake.take([service.intake.incoming("cbor/lg-01", pack)])
        for quarter in range(3):
            clock.set(START_MS + quarter * 15 * MINUTE_MS)
            service.intake.take([service.intake.incoming("board/lg-01/2", b"64.4")])
        service.intake.take([service.intake.incoming("slabhour/millrace/r/lg-01", b"[]")])
        kept = {sensor: list(service.readings.rows(SensorId(sensor), 0, END_MS)) for sensor in ("lg-01.1", "lg-01.2")}
    assert [(r.taken_ms, r.milli_c) for r in kept["lg-01.1"]] == [(START_MS, 17_500)]
    assert [(r.taken_ms - START_MS, r.milli_c) for r in kept["lg-01.2"]] == [(0, 18_000), (15 * MINUTE_MS, 18_000)]


@pytest.mark.row("S7", "M13")
def test_a_book_put_back_from_yesterday_is_noticed_before_anything_is_sent(tmp_path: Path) -> None:
    book, wal = tmp_path / "var" / "site.db", tmp_path / "var" / "site.db-wal"
    with little_service(tmp_path) as (service, _):
        service.apply(poured()[0])
    yesterday = book.read_bytes()
    with little_service(tmp_path) as (service, _):
        service.apply(act("stop", START_MS, who="anybody", pour=POUR, why="crack"))
        service.dispatcher.run_due()
        assert service.book.service.doubts() == ()
    wal.unlink(missing_ok=True)
    book.write_bytes(yesterday)
    with little_service(tmp_path, START_MS + HOUR_MS) as (service, _):
        (doubt,) = service.book.service.doubts()
        assert doubt.kind is DoubtKind.LOG
        service.tick()
        assert {g.state for g in service.book.board.board()[0].gates.values()} == {GateState.SUSPENDED}
        with pytest.raises(ActRefusedError, match="engineer"):
            service.apply(act("resume", START_MS + HOUR_MS, "qc-one", doubt="log", why="looks well"))


def test_a_store_that_fails_round_after_round_is_told_by_the_next_tick(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    with little_service(tmp_path) as (service, clock):
        service.apply(poured()[0])
        service.rounds.trouble.rounds = 99
        clock.set(START_MS + HOUR_MS)
        service.tick()
        assert [d.kind for d in service.book.service.doubts()] == [DoubtKind.STORE]
        assert service.rounds.trouble.rounds == 0
    assert "every gate is suspended" in caplog.text


@pytest.mark.needs_influxdb
@NEEDS_INFLUXDB[1]
def test_a_service_on_influxdb_decides_as_one_on_files_and_lets_nobody_sign_while_it_is_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shared.store.influx_server.PATIENCE_S", 0.2)
    readings, seen = history(26), []
    with influx_running(tmp_path / "influxdb") as (server, front):
        stores = f'readings = {{ kind = "influxdb", url = "{front.url}", bucket = "slab" }}'
        for name, changes in (("files", {}), ("server", {'readings = { kind = "sqlite" }': stores})):
            (tmp_path / name).mkdir()
            setup, clock = load(write_site(tmp_path / name, **changes)), SimulatedClock(START_MS)
            with build(setup, clock=clock, transport=RecordingTransport()) as service:
                for one in poured():
                    clock.set(one.at_ms)
                    service.apply(one)
                clock.set(readings[-1].received_ms)
                service.intake.take_rows(readings)
                service.rounds.run_due()
                clock.set(clock.now() + 61_000)
                if name == "server":
                    server.kill()
                    with pytest.raises(StoreError, match="does not answer"):
                        service.intake.take_rows(readings[-1:])
                service.rounds.run_due()
                if name == "server":
                    with pytest.raises(StoreError, match="does not answer"):
                        service.apply(act("sign", clock.now(), "super", pour=POUR, operations=["strip"]))
                    server.start()
                    service.intake.take_rows(readings[-1:])
                service.apply(act("sign", clock.now(), "super", pour=POUR, operations=["strip"]))
                row = service.book.board.board()[0]
                seen.append((row.gates[STRIP].state, row.state.estimate, row.state.verdicts))
    assert seen[0][0] is GateState.RELEASED
    assert seen[0] == seen[1]
    assert not (tmp_path / "server" / "var" / "readings.db").exists()


def test_a_replay_keeps_its_hands_off_the_sites_server(tmp_path: Path) -> None:
    with ordered(Answer(500)) as front:
        setup = influx_setup(front.url, folder=str(tmp_path))
        assert in_files(setup).site.stores == make_setup().site.stores
        assert in_files(setup).site.bay == setup.site.bay
        readings = [make_reading(minutes=m) for m in (0, 15)]
        replay(setup, readings, [], tell=lambda _: None)
        assert front.requests == []
