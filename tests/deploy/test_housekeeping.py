"""Every hour: a backup, what may be forgotten, room given back; and what went wrong is told."""

from __future__ import annotations

import json
import shutil
from dataclasses import asdict
from pathlib import Path

import pytest
from backup_support import HISTORY, LATE, SIGNED_MS, finish, later, left, little_setup, release_strip, service_of
from deploy_support import POUR, START_MS, run

from deploy import housekeeping
from deploy.backup import found_in, verified
from deploy.housekeeping import FILE, NOT_BACKED_UP, Housekeeping, state_of, status_lines
from shared.models.base import MINUTE_MS, PourId
from shared.models.decisions import Doubt, DoubtKind, LogEntry
from shared.models.setup import Setup


def site(folder: Path, more: str = "") -> Setup:
    tables = f'[backup]\nfolder = "backups"\nkeep = 3\n{more}[[mix]]'
    return little_setup(folder, **{"[[mix]]": tables})


@pytest.mark.row("S14")
def test_there_is_a_backup_of_every_hour_and_the_newest_few_are_kept(tmp_path: Path) -> None:
    with service_of(site(tmp_path), START_MS) as (service, clock):
        release_strip(service, clock)
        keeping = Housekeeping(service)
        for minute in range(0, 5 * 60, 10):
            clock.set(SIGNED_MS + minute * MINUTE_MS)
            keeping.look()
        made = found_in(tmp_path / "backups", "millrace")
        assert [verified(path).at_ms for path in made] == [later(hour) for hour in (2, 3, 4)]
        assert keeping.wrong() == []
        # A service that starts again does not begin anew.
        Housekeeping(service).look()
        assert found_in(tmp_path / "backups", "millrace") == made
        # A last time that lies ahead, because the clock was put back since, does not stop the backups.
        state = state_of(service.folder)
        assert state is not None
        (service.folder / FILE).write_text(json.dumps({**asdict(state), "at_ms": later(48)}))
        clock.set(later(4) + 55 * MINUTE_MS)
        Housekeeping(service).look()
        assert [verified(path).at_ms for path in found_in(tmp_path / "backups", "millrace")][-1] == clock.now()


@pytest.mark.row("S14")
def test_a_backup_that_fails_is_told_by_status_and_withholds_the_heartbeat_until_one_is_made(tmp_path: Path) -> None:
    setup, folder = site(tmp_path), tmp_path / "backups"
    with service_of(setup, START_MS) as (service, clock):
        release_strip(service, clock)
        keeping = Housekeeping(service)
        keeping.look()
        folder.rename(tmp_path / "unplugged")
        folder.write_text("")
        clock.set(later(1))
        keeping.look()
        (wrong,) = keeping.wrong()
        assert "backup: no backup can be written to" in wrong
        said = status_lines(setup, service.folder, later(1))
        assert said[0].startswith("newest backup: Tue 24 Nov 10:01")
        assert said[1] == f"HOUSEKEEPING: {wrong}"
        folder.unlink()
        shutil.move(tmp_path / "unplugged", folder)
        clock.set(later(2))
        keeping.look()
        assert keeping.wrong() == []


def test_a_backup_that_is_too_old_is_told_whatever_kept_the_next_one_from_being_made(tmp_path: Path) -> None:
    setup = site(tmp_path)
    with service_of(setup, SIGNED_MS) as (service, clock):
        keeping = Housekeeping(service)
        clock.set(later(3))
        assert keeping.wrong() == []
        clock.set(later(3.1))
        assert keeping.wrong() == ["the newest backup is too old: never; see [backup] folder"]
        assert "no backup yet" in status_lines(setup, service.folder, later(3.1))[0]
        keeping.look()
        assert keeping.wrong() == []
        clock.set(later(7))
        assert "too old: Tue 24 Nov 13:07" in keeping.wrong()[0]
        assert "too old" in status_lines(setup, service.folder, later(7))[1]


def test_a_service_that_ends_gives_up_the_copy_and_calls_that_no_fault(tmp_path: Path) -> None:
    with service_of(site(tmp_path), SIGNED_MS) as (service, _):
        keeping = Housekeeping(service)
        keeping.end()
        keeping.look()
        assert keeping.wrong() == []
        assert list((tmp_path / "backups").iterdir()) == []


def test_a_fault_in_one_thing_hinders_no_other(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("not foreseen")

    with service_of(site(tmp_path), SIGNED_MS) as (service, _):
        monkeypatch.setattr(housekeeping, "back_up", broken)
        monkeypatch.setattr(service.readings, "tidy", lambda: "readings.db-wal has grown to 300 MiB")
        keeping = Housekeeping(service)
        keeping.look()
        assert keeping.wrong() == ["backup: RuntimeError", "readings.db-wal has grown to 300 MiB"]


@pytest.mark.row("S13")
def test_nothing_is_forgotten_while_a_doubt_stands_or_the_clock_may_be_wrong(tmp_path: Path) -> None:
    with service_of(site(tmp_path, "[retention]\nyears = 10\n"), START_MS) as (service, clock):
        release_strip(service, clock)
        finish(service)
        keeping = Housekeeping(service)
        clock.set(LATE)
        clock.is_synchronised = False
        keeping.run(LATE)
        assert left(service) == len(HISTORY)
        clock.is_synchronised = True
        service.book.service.raise_doubt(Doubt(DoubtKind.STORE, LATE, "looks odd"), [])
        keeping.run(LATE + MINUTE_MS)
        assert left(service) == len(HISTORY)
        service.book.service.end_doubt(DoubtKind.STORE, LogEntry(LATE, "eng", "doubt", {}))
        keeping.run(LATE + 2 * MINUTE_MS)
        assert left(service) == 0
        state = state_of(service.folder)
        assert state is not None
        assert state.forgotten == len(HISTORY)


def test_a_site_without_a_setting_keeps_everything_and_says_that_nothing_is_backed_up(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    setup = little_setup(tmp_path)
    with service_of(setup, START_MS) as (service, clock):
        release_strip(service, clock)
        finish(service)
        clock.set(LATE)
        keeping = Housekeeping(service)
        keeping.look()
        assert (left(service), keeping.wrong()) == (len(HISTORY), [])
        assert service.book.cure.pour_named(PourId(POUR)) is not None
        shown = run(capsys, ["status", "--site", tmp_path / "site.toml"])
        assert NOT_BACKED_UP in shown.out
        assert run(capsys, ["status", "--site", tmp_path / "site.toml", "--json"]).json()["housekeeping"] == [
            NOT_BACKED_UP
        ]


def test_a_state_that_cannot_be_understood_is_no_state(tmp_path: Path) -> None:
    for text in ("", "[]", '{"wrong": 1}', '{"wrong": [], "more": 1}'):
        (tmp_path / FILE).write_text(text)
        assert state_of(tmp_path) is None
