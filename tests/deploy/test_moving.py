"""A site goes to servers and back with every row and all gates as they were, and its source stays as it is."""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest
from backup_support import SIGNED_MS, later, released_site, service_of, strip_of
from deploy_support import POUR, act, run
from influx_support import NEEDS_INFLUXDB, influx_running
from move_support import influx, on_server, site_file
from postgresql_support import NEEDS_POSTGRESQL, PostgresqlServer, postgresql

from deploy import moving
from deploy.folders import with_data
from deploy.moving import Moved, move
from deploy.restored import Restored, mark
from deploy.wiring import Service
from shared.errors import LockedError, SlabError, StoreError
from shared.models.base import SensorId
from shared.models.decisions import GateState
from shared.models.readings import Reading
from shared.models.setup import Setup
from shared.sitefile import load
from shared.store import book_moving, open_readings
from shared.store.photos import PhotoFolder

EDGE = SensorId("lg-01.1")


@pytest.fixture(scope="module")
def server() -> Iterator[PostgresqlServer]:
    with postgresql() as running:
        yield running


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a stopped site whose strip was released, with a picture and what its own broker still holds."""
    folder = tmp_path_factory.mktemp("site")
    released_site(folder)
    data = folder / "var"
    PhotoFolder(data, least_free_bytes=0).keep(b"a picture")
    (data / "broker" / "stream").mkdir(parents=True)
    (data / "broker" / "stream" / "1.blk").write_bytes(b"held")
    return folder


@pytest.fixture
def site(made: Path, tmp_path: Path) -> Setup:
    """That site in a folder of the test's own."""
    shutil.copytree(made, tmp_path, dirs_exist_ok=True)
    return load(tmp_path / "site.toml")


def contents(folder: Path) -> Mapping[str, bytes]:
    """Return every file of a data folder that says something of the site."""
    passing = {"lock", "readings.db.lock", "site.db-shm", "readings.db-shm", "site.db-wal", "readings.db-wal"}
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name not in passing
    }


def standing(service: Service) -> object:
    """Return where a site stands, whatever it is kept in."""
    board = service.book.board
    rows = [list(service.readings.rows(SensorId(f"lg-{name}"), 0, 2**62)) for name in ("01.1", "01.2", "09.1")]
    return board.board(), board.log_after(0), board.messages(), board.deliveries(), board.acts(), rows


def stands(setup: Setup) -> object:
    """Return where a site stands when its service begins."""
    with service_of(setup, later(2)) as (service, _):
        return standing(service)


@pytest.mark.parametrize("_", [pytest.param(0, marks=[*NEEDS_POSTGRESQL, *NEEDS_INFLUXDB])])
@pytest.mark.row("S14")
def test_a_site_goes_to_servers_and_back_with_all_gates_as_they_were(
    site: Setup, tmp_path: Path, server: PostgresqlServer, _: int
) -> None:
    before = contents(tmp_path / "var")
    with influx_running(tmp_path / "influx") as (_server, front):
        there = on_server(tmp_path, server, "new.toml", influx(front.url))
        moved = move(site, there)
        assert moved.files is None
        assert contents(tmp_path / "var") == before
        assert moved.tables is not None
        assert {one.name: one.rows for one in moved.tables}["pour"] == 1
        assert moved.sensors is not None
        assert {one.sensor: (one.rows, one.copied) for one in moved.sensors}[EDGE] == (105, 105)
        again = move(site, there)
        assert (again.tables, again.lines) == (moved.tables, moved.lines)
        assert {(one.sensor, one.copied) for one in again.sensors or ()} == {(s.sensor, 0) for s in moved.sensors}
        shutil.copytree(tmp_path / "var", tmp_path / "copy")
        kept = load(site_file(tmp_path, "kept.toml", data="copy"))
        was = stands(kept)
        with service_of(there, later(2)) as (service, clock):
            assert standing(service) == was
            assert strip_of(service) is GateState.RELEASED
            # The site goes on there: another line of the log, another reading.
            service.intake.take_rows([Reading(EDGE, later(1), 17_000, later(1))])
            service.apply(act("stop", clock.now(), "anybody", pour=POUR, why="crack"))
        with pytest.raises(StoreError, match=r"another site book at the other end, .*move site.db out of .*var"):
            move(there, site)
        back = load(site_file(tmp_path, "back.toml", data="home"))
        returned = move(there, back)
        assert returned.files is not None
        assert PhotoFolder(tmp_path / "home").read(next(iter((tmp_path / "home" / "photos").iterdir())).name)
        assert (tmp_path / "home" / "broker" / "stream" / "1.blk").read_bytes() == b"held"
        with service_of(there, later(3)) as (service, _clock):
            on_servers = standing(service)
    with service_of(back, later(3)) as (service, _clock):
        assert standing(service) == on_servers
        assert strip_of(service) is GateState.WITHDRAWN
        assert service.self_check.verify()


def test_a_copy_that_was_stopped_goes_on_and_meets_nothing_but_its_own(
    site: Setup, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    to = load(site_file(tmp_path, "new.toml", data="home"))

    before = contents(tmp_path / "var")
    monkeypatch.setattr(moving, "PAGE", 50)
    for stop in ("files", "readings", "site book"):

        def stopped(what: str, fraction: float, stop: str = stop) -> None:
            if what == stop and fraction > 0.3:
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            move(site, to, stopped)
        # Nobody can go on from half a copy: it has no book.
        assert not list((tmp_path / "home").glob("**/site.db"))
    with service_of(to, later(2)) as (service, _):
        assert service.book.board.board() == []
        # No loss of a reading either, and none is made up: what came there is refused, not mixed in.
        service.readings.merge([Reading(EDGE, later(1), 17_000, later(1))])
    with pytest.raises(StoreError, match=r"another site book at the other end, and nothing was written: move site\.db"):
        move(site, to)
    (tmp_path / "home" / "site.db").unlink()
    with pytest.raises(StoreError, match=r"other readings of sensor lg-01.1 .* left as they are: name another place"):
        move(site, to)
    for left in (tmp_path / "home").glob("*.db*"):
        left.unlink()
    moved = move(site, to)
    assert contents(tmp_path / "var") == before
    assert (moved.files, [s.copied == s.rows for s in moved.sensors or ()]) == (0, [True] * len(moved.sensors or ()))
    other = tmp_path / "home" / "broker" / "stream" / "1.blk"
    other.write_bytes(b"else")
    with pytest.raises(SlabError, match=r"1.blk is another file than .*, and was left as it is: move it away first"):
        move(site, to)
    assert stands(to) == stands(site)


def test_a_reading_that_the_other_end_does_not_keep_is_noticed(
    site: Setup, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def forgetful(setup: Setup, folder: Path) -> object:
        store = open_readings(setup, folder)
        merge = store.merge
        monkeypatch.setattr(store, "merge", lambda batch: merge(batch[1:]))
        return store

    monkeypatch.setattr(moving, "open_readings", forgetful)
    to = load(site_file(tmp_path, "new.toml", data="home"))
    with pytest.raises(StoreError, match=r"what arrived of sensor lg-01.1 is not what was sent: 104 readings of 105"):
        move(site, to)
    assert not (tmp_path / "home" / "site.db").exists()


@pytest.mark.parametrize("_", [pytest.param(0, marks=NEEDS_POSTGRESQL)])
def test_what_must_not_be_copied_is_refused_before_anything_is_written(
    site: Setup, tmp_path: Path, server: PostgresqlServer, monkeypatch: pytest.MonkeyPatch, _: int
) -> None:
    monkeypatch.setattr(book_moving, "LEAVES_S", 0.3)
    to = load(site_file(tmp_path, "new.toml", data="home"))
    inside = load(site_file(tmp_path, "inside.toml", data="var/home"))
    with pytest.raises(SlabError, match="lie in one another"):
        move(site, inside)
    with pytest.raises(SlabError, match="both site files name the same stores"):
        move(site, load(site_file(tmp_path, "same.toml")))
    for runs in (site, to):
        with service_of(runs, later(2)), pytest.raises(LockedError, match="stop it first"):
            move(site, to)
    shutil.rmtree(tmp_path / "home")
    text = (tmp_path / "new.toml").read_text()
    (tmp_path / "other.toml").write_text(text.replace('id = "millrace"', 'id = "elsewhere"', 1))
    with pytest.raises(SlabError, match="of site elsewhere, not of millrace"):
        move(site, load(tmp_path / "other.toml"))
    mark(tmp_path / "var", Restored(SIGNED_MS, SIGNED_MS, 1, "a"))
    with pytest.raises(StoreError, match="nobody has accepted yet: resume first"):
        move(site, to)
    (tmp_path / "var" / "restored.json").unlink()
    # A process of another host, with a data folder of its own, is connected to the book.
    served = on_server(tmp_path, server, "served.toml")
    move(site, served)
    with service_of(with_data(served, tmp_path / "elsewhere"), later(2)) as (service, _clock):
        assert strip_of(service) is GateState.RELEASED
        with pytest.raises(LockedError, match=r"connected to the site book \(from the host of the server\): stop"):
            move(served, to)
    assert not list((tmp_path / "home").glob("*.db"))


def test_the_command_says_what_was_copied_and_what_is_next(
    site: Setup, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    site_file(tmp_path, "new.toml", data="home")
    command: list[str | Path] = ["store", "copy", "--site", tmp_path / "site.toml", "--to", tmp_path / "new.toml"]
    with monkeypatch.context() as patched:
        patched.setattr(moving, "_book", _interrupted)
        ran = run(capsys, command)
        assert (ran.code, ran.out) == (1, "")
        assert "nothing at the source was changed, and the same command goes on from here" in ran.err
    ran = run(capsys, command)
    assert (ran.code, ran.err) == (0, "")
    assert "the readings are there: 4 sensors, 315 readings, 0 of them new, and the same" in ran.out
    assert "next: put new.toml in the place of site.toml, then start slabhour serve." in ran.out
    said = run(capsys, [*command, "--json"]).json()
    assert {one["name"]: one["rows"] for one in said["tables"]}["gate"] == 3
    sensors = [(one["sensor"], one["rows"], one["copied"], len(one["digest"])) for one in said["sensors"]]
    heard = [(f"lg-{name}", rows, 0, 64) for name, rows in (("01.1", 105), ("01.2", 105), ("02.1", 0), ("09.1", 105))]
    assert sensors == heard
    assert said["next"].startswith("next: put new.toml")
    (tmp_path / "apart").mkdir()
    away = tmp_path / "apart" / "new.toml"
    shutil.copytree(tmp_path / "calibrations", tmp_path / "apart" / "calibrations")
    away.write_text((tmp_path / "new.toml").read_text())
    apart = run(capsys, ["store", "copy", "--site", tmp_path / "site.toml", "--to", away])
    # Paths in a site file count from its folder: put in the other's place it would name another data folder.
    assert f"next: start slabhour serve --site {away}, and " in apart.out
    assert (tmp_path / "apart" / "home" / "site.db").is_file()


def _interrupted(_: object) -> Moved:
    raise KeyboardInterrupt
