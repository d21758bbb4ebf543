"""One process owns a data folder."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from shared.errors import LockedError, StoreError
from shared.store.lock import NETWORK_FILE_SYSTEMS, DataLock, file_system_type

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
