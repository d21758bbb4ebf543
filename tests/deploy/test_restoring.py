"""A restored pair of stores suspends everything until a person accepts it, and loses no file that was there."""

from __future__ import annotations

from pathlib import Path

import pytest
from backup_support import SIGNED_MS, later, little_setup, released_site, service_of, strip_of
from deploy_support import POUR, act

from deploy.anchors import Anchors
from deploy.backup import back_up
from deploy.restored import FILE, marked
from deploy.restoring import restore
from shared.errors import ActRefusedError, LockedError, SlabError, StoreError
from shared.models.base import STRIP, SensorId
from shared.models.decisions import DoubtKind, GateState
from shared.models.messages import MessageKind
from shared.models.setup import Setup
from shared.sitefile import load
from shared.store.photos import PhotoFolder

RESUME = {"doubt": "log", "why": "disk failed; looked at every bay"}
STOP = {"pour": POUR, "why": "crack"}


@pytest.fixture
def site(tmp_path: Path) -> Setup:
    """A site whose strip was released, backed up, and stopped an hour later."""
    setup = released_site(tmp_path)
    back_up(setup, tmp_path / "backups", SIGNED_MS)
    with service_of(setup, later(1)) as (service, _):
        service.apply(act("stop", later(1), "anybody", **STOP))
        assert strip_of(service) is GateState.WITHDRAWN
    return setup


def test_pictures_of_tickets_come_back_with_it(site: Setup, tmp_path: Path) -> None:
    data, backups = tmp_path / "var", tmp_path / "backups"
    digest, _ = PhotoFolder(data, least_free_bytes=0).keep(b"a picture")
    back_up(site, backups, later(2))
    assert PhotoFolder(backups).read(digest) == b"a picture"
    PhotoFolder(data).drop(digest)
    restore(site, backups, later(3), replace=True)
    assert PhotoFolder(data).read(digest) == b"a picture"


@pytest.mark.row("S7", "S14")
def test_a_release_that_was_stopped_after_the_backup_does_not_come_back(site: Setup, tmp_path: Path) -> None:
    done = restore(site, tmp_path / "backups", later(2), replace=True)
    assert done.aside is not None
    with service_of(site, later(2)) as (service, clock):
        (doubt,) = service.book.service.doubts()
        assert doubt.kind is DoubtKind.LOG
        assert "lines of the log are known to be lost" in doubt.reason
        service.tick()
        assert {gate.state for gate in service.book.board.board()[0].gates.values()} == {GateState.SUSPENDED}
        with pytest.raises(ActRefusedError, match="engineer"):
            service.apply(act("resume", clock.now(), "qc-one", **RESUME))
        assert strip_of(service) is GateState.SUSPENDED
        service.apply(act("resume", clock.now(), "eng", **RESUME))
        service.tick()
        assert strip_of(service) is GateState.WITHDRAWN
        told = [m for m in service.book.board.messages() if m.kind is MessageKind.WITHDRAWAL]
        assert [m.subject for m in told][:1] == [STRIP]
        assert "what was decided since is not known" in str(told[0].facts)
        logged = [entry.body for _, entry in service.book.board.log_after(0) if entry.what == "act"]
        assert logged[-1]["why"] == RESUME["why"]
    assert marked(tmp_path / "var") is None
    # The next start knows of no doubt, and what is written from here on is anchored again.
    with service_of(site, later(3)) as (service, _):
        assert service.book.service.doubts() == ()
        assert service.self_check.verify()


@pytest.mark.row("S7")
def test_also_where_no_anchor_tells_of_anything_newer_a_restored_book_is_in_doubt(site: Setup, tmp_path: Path) -> None:
    (tmp_path / "new").mkdir()
    (tmp_path / "new" / "site.toml").write_text((tmp_path / "site.toml").read_text())
    (tmp_path / "calibrations").rename(tmp_path / "new" / "calibrations")
    elsewhere = load(tmp_path / "new" / "site.toml")
    assert restore(elsewhere, tmp_path / "backups", later(2), replace=False).aside is None
    for hour in (2, 3):
        with service_of(elsewhere, later(hour)) as (service, _):
            service.tick()
            assert strip_of(service) is GateState.SUSPENDED
            assert [d.kind for d in service.book.service.doubts()] == [DoubtKind.LOG]


@pytest.mark.row("S7")
def test_another_book_than_the_one_that_was_restored_cannot_be_accepted(site: Setup, tmp_path: Path) -> None:
    restore(site, tmp_path / "backups", later(2), replace=True)
    Anchors(tmp_path / "var" / "anchors.jsonl").add((2, "0" * 64), later(2))
    with service_of(site, later(2)) as (service, clock), pytest.raises(ActRefusedError, match="log line 2 is not"):
        service.apply(act("resume", clock.now(), "eng", **RESUME))


@pytest.mark.row("S14")
def test_nothing_is_written_over_without_a_word_and_nothing_is_deleted(site: Setup, tmp_path: Path) -> None:
    data = tmp_path / "var"
    before = {p.name: p.read_bytes() for p in data.iterdir() if p.name in {"site.db", "readings.db"}}
    with pytest.raises(SlabError, match=r"there are stores in .*site\.db.*nothing was written: --replace puts"):
        restore(site, tmp_path / "backups", later(2), replace=False)
    assert {p.name: p.read_bytes() for p in data.iterdir() if p.name in before} == before
    assert marked(data) is None
    for number in range(2):
        done = restore(site, tmp_path / "backups", later(2), replace=True)
        assert done.aside is not None
        assert done.aside.name == "replaced-20261124T160102Z" + "-2" * number
    assert {
        p.name: p.read_bytes() for p in (data / "replaced-20261124T160102Z").iterdir() if p.name in before
    } == before


def test_beside_a_running_service_nothing_is_restored(site: Setup, tmp_path: Path) -> None:
    with service_of(site, later(2)), pytest.raises(LockedError, match="stop it first"):
        restore(site, tmp_path / "backups", later(2), replace=True)


def test_a_backup_of_another_site_or_for_another_store_is_refused(site: Setup, tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    text = path.read_text()
    (backup,) = (tmp_path / "backups").iterdir()
    path.write_text(text.replace('id = "millrace"', 'id = "elsewhere"', 1))
    with pytest.raises(StoreError, match="is of site millrace, not of elsewhere"):
        restore(load(path), backup, later(2), replace=True)
    with pytest.raises(StoreError, match="none of site elsewhere in it"):
        restore(load(path), tmp_path / "backups", later(2), replace=True)
    server = 'readings = { kind = "influxdb", url = "http://127.0.0.1:9", bucket = "slab" }'
    path.write_text(text.replace('readings = { kind = "sqlite" }', server))
    with pytest.raises(StoreError, match=r"readings in sqlite, and .* says influxdb"):
        restore(load(path), backup, later(2), replace=True)


@pytest.mark.row("S7", "S14")
@pytest.mark.parametrize("step", range(5))
def test_a_restore_that_ends_at_any_step_is_noticed_and_can_be_done_again(
    site: Setup, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: int
) -> None:
    """Each name that is changed is a step; a file half way in place must never pass for the site's book."""
    left = [step]

    class KilledError(Exception):
        """Stands for the power going."""

    renamed = Path.rename

    def rename(self: Path, target: Path) -> Path:
        if left[0] == 0:
            raise KilledError
        left[0] -= 1
        return renamed(self, target)

    killed = False
    with monkeypatch.context() as patched:
        patched.setattr(Path, "rename", rename)
        try:
            restore(site, tmp_path / "backups", later(2), replace=True)
        except KilledError:
            killed = True
    assert killed == (step < 4)
    assert marked(tmp_path / "var") is not None
    with service_of(site, later(2)) as (service, clock):
        service.tick()
        assert {d.kind for d in service.book.service.doubts()} == {DoubtKind.LOG}
        gates = [gate for row in service.book.board.board() for gate in row.gates.values()]
        assert {gate.state for gate in gates} <= {GateState.SUSPENDED, GateState.WITHDRAWN}
        if not gates:
            with pytest.raises(ActRefusedError, match="still in doubt"):
                service.apply(act("resume", clock.now(), "eng", **RESUME))
        assert len(service.readings.between(SensorId("lg-01.1"), 0, later(1))) > 100 or not gates
    restore(site, tmp_path / "backups", later(3), replace=True)
    with service_of(site, later(3)) as (service, clock):
        service.apply(act("resume", clock.now(), "eng", **RESUME))
        service.tick()
        assert strip_of(service) is GateState.WITHDRAWN


def test_the_mark_that_cannot_be_understood_is_a_doubt(tmp_path: Path) -> None:
    setup = little_setup(tmp_path)
    (tmp_path / "var").mkdir()
    (tmp_path / "var" / FILE).write_text("{")
    with service_of(setup) as (service, clock):
        assert "a restore was not finished" in service.book.service.doubts()[0].reason
        with pytest.raises(ActRefusedError, match="a restore was not finished"):
            service.apply(act("resume", clock.now(), "eng", **RESUME))
