"""One process owns a data folder."""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from store_support import EDGE, make_reading, make_setup

from shared.errors import LockedError, StoreError
from shared.store import open_readings, read_readings
from shared.store.lock import NETWORK_FILE_SYSTEMS, DataLock, file_system_type, only_writer

HOLDER = """
import sys
from pathlib import Path
from shared.store.lock import DataLock
with DataLock(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""


def holder(folder: Path) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )


def test_a_second_process_is_told_who_owns_the_folder_and_what_to_do(tmp_path: Path) -> None:
    with holder(tmp_path) as first:
        assert first.stdout is not None
        assert first.stdout.readline() == "held\n"
        with pytest.raises(LockedError, match=rf"process {first.pid}\) owns .*stop it first"), DataLock(tmp_path):
            pass
        assert first.stdin is not None
        first.stdin.close()
        first.wait()
    with DataLock(tmp_path):
        pass


@pytest.mark.row("H2")
def test_a_killed_owner_leaves_the_folder_free(tmp_path: Path) -> None:
    with holder(tmp_path) as first:
        assert first.stdout is not None
        first.stdout.readline()
        first.kill()
        first.wait()
    with DataLock(tmp_path):
        pass


def test_the_same_process_cannot_own_a_folder_twice(tmp_path: Path) -> None:
    with DataLock(tmp_path), pytest.raises(LockedError), DataLock(tmp_path):
        pass


def test_the_folder_is_made(tmp_path: Path) -> None:
    with DataLock(tmp_path / "a" / "b"):
        assert (tmp_path / "a" / "b" / "lock").is_file()


@pytest.mark.row("S12")
@pytest.mark.parametrize(("number", "name"), NETWORK_FILE_SYSTEMS.items())
def test_a_network_file_system_is_refused(tmp_path: Path, number: int, name: str) -> None:
    with pytest.raises(StoreError, match=rf"{name}.*\[site\] data"), DataLock(tmp_path, lambda _: number):
        pass
    assert list(tmp_path.iterdir()) == []


def test_the_type_of_this_machines_file_system_is_found(tmp_path: Path) -> None:
    kind = file_system_type(tmp_path)
    assert kind == file_system_type(tmp_path.parent) > 0
    with pytest.raises(OSError, match="No such file"):
        file_system_type(tmp_path / "nowhere")


def test_a_folder_that_cannot_be_made_is_a_store_error(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(StoreError, match="cannot use the data folder"), DataLock(tmp_path / "file" / "data"):
        pass


WRITER = """
import sys
from pathlib import Path
from shared.store.lock import only_writer
with only_writer(Path(sys.argv[1]) / "readings.db"):
    print("held", flush=True)
    sys.stdin.read()
"""


def test_a_second_writer_of_the_readings_is_refused_with_words_and_readers_are_not(tmp_path: Path) -> None:
    with closing(open_readings(make_setup(), tmp_path)) as store:
        store.merge([make_reading()])
        with pytest.raises(LockedError, match=rf"readings\.db is already open to write \(process {os.getpid()}\)"):
            open_readings(make_setup(), tmp_path)
        with closing(read_readings(make_setup(), tmp_path)) as reader:
            assert len(reader.between(EDGE, 0, 2**62)) == 1
    open_readings(make_setup(), tmp_path).close()


def test_a_writer_in_another_process_is_named_and_a_killed_one_leaves_the_readings_free(tmp_path: Path) -> None:
    command = [sys.executable, "-c", WRITER, str(tmp_path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as first:
        assert first.stdout is not None
        first.stdout.readline()
        with pytest.raises(LockedError, match=rf"process {first.pid}\): one connection writes it, all others read"):
            open_readings(make_setup(), tmp_path)
        first.kill()
        first.wait()
    open_readings(make_setup(), tmp_path).close()


def test_where_nothing_can_be_written_the_readings_are_not_opened(tmp_path: Path) -> None:
    (tmp_path / "readings.db.lock").mkdir()
    with pytest.raises(StoreError, match="cannot write beside"), only_writer(tmp_path / "readings.db"):
        pass
