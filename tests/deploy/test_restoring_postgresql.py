"""A book on a server is backed up and restored as one in a file: suspended until accepted, and nothing is deleted."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest
from backup_support import SIGNED_MS, later, release_strip, service_of, strip_of
from deploy_support import POUR, act, poured
from move_support import on_server
from postgresql_support import NEEDS_POSTGRESQL, PostgresqlServer, postgresql
from psycopg import sql

from deploy import restoring
from deploy.backup import back_up, verified
from deploy.restored import marked
from deploy.restoring import Done, restore
from shared.errors import ActRefusedError, LockedError, SlabError, StoreError
from shared.models.base import SensorId
from shared.models.decisions import DoubtKind, GateState
from shared.models.setup import Setup
from shared.models.stores import PostgresqlSettings
from shared.store import book_moving, has_book

pytestmark = list(NEEDS_POSTGRESQL)
RESUME = {"doubt": "log", "why": "disk failed; looked at every bay"}


class KilledError(Exception):
    """Stands for the power going."""


def dying_after(step: Callable[..., object]) -> Callable[..., object]:
    """Return a step after which the power goes."""

    def dies(*of: object) -> object:
        step(*of)
        raise KilledError

    return dies


@pytest.fixture(scope="module")
def server() -> Iterator[PostgresqlServer]:
    with postgresql() as running:
        yield running


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory, server: PostgresqlServer) -> Setup:
    """A site on a server whose strip was released, backed up beside the service, and stopped an hour later."""
    folder = tmp_path_factory.mktemp("site")
    setup = on_server(folder, server)
    with service_of(setup, poured()[0].at_ms) as (service, clock):
        release_strip(service, clock)
        back_up(setup, folder / "backups", SIGNED_MS)
        clock.set(later(1))
        service.apply(act("stop", later(1), "anybody", pour=POUR, why="crack"))
        assert strip_of(service) is GateState.WITHDRAWN
    return setup


@pytest.fixture
def site(made: Setup, tmp_path: Path, server: PostgresqlServer) -> Setup:
    """That site in a folder and a database of the test's own."""
    shutil.copytree(made.folder, tmp_path, dirs_exist_ok=True)
    return on_server(tmp_path, server, template=database_of(made))


def database_of(setup: Setup) -> str:
    """Return the name of the database of a site."""
    settings = setup.site.stores.book
    assert isinstance(settings, PostgresqlSettings)
    return Path(settings.dsn_file).stem


def schemas(setup: Setup) -> dict[str, int]:
    """Return the lines of the log in each schema that has one."""
    with psycopg.connect(Path(setup.folder, f"{database_of(setup)}.dsn").read_text(encoding="ascii")) as link:
        found = link.execute("SELECT schemaname FROM pg_tables WHERE tablename = 'log'").fetchall()
        asked = sql.SQL("SELECT count(*) FROM {}")
        return {name: link.execute(asked.format(sql.Identifier(name, "log"))).fetchall()[0][0] for (name,) in found}


@pytest.mark.row("S7", "S14")
def test_a_backup_goes_back_to_the_same_server_and_suspends_every_gate(
    site: Setup, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (backup,) = (tmp_path / "backups").iterdir()
    about = verified(backup)
    assert sorted(path.name for path in backup.iterdir()) == ["backup.json", "readings.db", "site.db"]
    before = schemas(site)
    assert list(before) == ["public"]
    assert before["public"] > about.seq
    with pytest.raises(SlabError, match=r"readings.db, .*the site book on the server\).* nothing was written: --repl"):
        restore(site, backup, later(2), replace=False)
    monkeypatch.setattr(book_moving, "LEAVES_S", 0.3)
    with service_of(site, later(2)), pytest.raises(LockedError, match="stop it first"):
        restore(site, backup, later(2), replace=True)
    assert schemas(site) == before
    assert marked(tmp_path / "var") is None
    names = []
    for _ in range(2):
        done = restore(site, backup, later(2), replace=True)
        names.append(done.schema)
        assert done.aside is not None
    assert names == ["replaced-20261124T160102Z", "replaced-20261124T160102Z-2"]
    assert schemas(site) == {names[0]: before["public"], names[1]: about.seq, "public": about.seq}
    with service_of(site, later(2)) as (service, clock):
        service.tick()
        assert [d.kind for d in service.book.service.doubts()] == [DoubtKind.LOG]
        assert {gate.state for gate in service.book.board.board()[0].gates.values()} == {GateState.SUSPENDED}
        with pytest.raises(ActRefusedError, match="engineer"):
            service.apply(act("resume", clock.now(), "qc-one", **RESUME))
        service.apply(act("resume", clock.now(), "eng", **RESUME))
        service.tick()
        assert strip_of(service) is GateState.WITHDRAWN
    assert marked(tmp_path / "var") is None


@pytest.mark.row("S7", "S14")
def test_a_restore_that_ends_at_any_step_is_noticed_and_can_be_done_again(
    site: Setup, tmp_path: Path, server: PostgresqlServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The mark is accepted with the stores it names, or with both that were there, and with no others."""
    (backup,) = (tmp_path / "backups").iterdir()
    for hour, step in enumerate(("ready_book", "mark", "put_book_aside", "_aside", "sync", "put_book"), 2):
        with monkeypatch.context() as patched:
            patched.setattr(restoring, step, dying_after(getattr(restoring, step)))
            with pytest.raises(KilledError):
                restore(site, backup, later(hour), replace=True)
        assert (marked(tmp_path / "var") is None) == (step == "ready_book")
        _look(site, later(hour), whole=step in {"ready_book", "mark", "put_book"})
    restore(site, backup, later(9), replace=True)
    with service_of(site, later(9)) as (service, clock):
        service.apply(act("resume", clock.now(), "eng", **RESUME))
        service.tick()
        assert strip_of(service) is GateState.WITHDRAWN


def _look(site: Setup, now: int, *, whole: bool) -> None:
    """Look at what a restore that was ended has left, and leave it so."""
    if marked(Path(site.folder, "var")) is None:
        assert has_book(site, Path(site.folder, "var"))
        return
    with service_of(site, now) as (service, clock):
        service.tick()
        assert {d.kind for d in service.book.service.doubts()} == {DoubtKind.LOG}
        gates = [gate for row in service.book.board.board() for gate in row.gates.values()]
        assert {gate.state for gate in gates} <= {GateState.SUSPENDED, GateState.WITHDRAWN}
        if gates:
            assert whole
            assert len(service.readings.between(SensorId("lg-01.1"), 0, later(1))) > 100
        else:
            assert not whole
            with pytest.raises(ActRefusedError, match="still in doubt"):
                service.apply(act("resume", clock.now(), "eng", **RESUME))


@pytest.mark.row("S14")
def test_a_backup_goes_into_an_empty_database_too(site: Setup, tmp_path: Path, server: PostgresqlServer) -> None:
    (backup,) = (tmp_path / "backups").iterdir()
    (tmp_path / "var").rename(tmp_path / "was")
    (tmp_path / "var").mkdir()
    empty = on_server(tmp_path, server)
    done = restore(empty, backup, later(2), replace=False)
    assert (done.aside, done.schema) == (None, None)
    with service_of(empty, later(2)) as (service, _):
        service.tick()
        assert strip_of(service) is GateState.SUSPENDED


@pytest.mark.row("S14")
def test_a_server_that_goes_away_amid_a_restore_is_told_with_what_to_do(
    site: Setup, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (backup,) = (tmp_path / "backups").iterdir()

    def away(*_: object) -> Done:
        raise StoreError("site book on PostgreSQL: server closed the connection unexpectedly")

    monkeypatch.setattr(restoring, "put_book", away)
    with pytest.raises(
        StoreError, match=r"could not be put on the server: .* Nothing is lost, .* again with --replace"
    ):
        restore(site, backup, later(2), replace=True)
    assert marked(tmp_path / "var") is not None
