"""Pictures: kept by what is in them, whole or not at all."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

import pytest

from shared.errors import StoreError
from shared.store.photos import FOLDER, PhotoFolder, copy_missing

BODY = bytes(range(256)) * 40
DIGEST = sha256(BODY).hexdigest()


def test_a_picture_is_kept_once_and_read_back_byte_by_byte(tmp_path: Path) -> None:
    photos = PhotoFolder(tmp_path, least_free_bytes=0)
    assert photos.read(DIGEST) is None
    assert (photos.keep(BODY), photos.keep(BODY)) == ((DIGEST, True), (DIGEST, False))
    assert photos.read(DIGEST) == BODY
    assert [path.name for path in (tmp_path / FOLDER).iterdir()] == [DIGEST]
    assert (tmp_path / FOLDER / DIGEST).stat().st_mode & 0o777 == 0o600
    photos.drop(DIGEST)
    assert photos.read(DIGEST) is None


@pytest.mark.parametrize("name", ["../site.db", "", "0" * 63, DIGEST.upper(), f"{DIGEST}\n"])
def test_a_name_that_is_no_digest_reads_and_drops_nothing(tmp_path: Path, name: str) -> None:
    (tmp_path / "site.db").write_text("all of it")
    photos = PhotoFolder(tmp_path, least_free_bytes=0)
    photos.keep(BODY)
    assert photos.read(name) is None
    photos.drop(name)
    assert (tmp_path / "site.db").read_text() == "all of it"


def test_a_picture_that_is_not_what_it_was_is_none(tmp_path: Path) -> None:
    photos = PhotoFolder(tmp_path, least_free_bytes=0)
    photos.keep(BODY)
    (tmp_path / FOLDER / DIGEST).write_bytes(BODY[:-1])
    assert photos.read(DIGEST) is None
    assert photos.keep(BODY) == (DIGEST, True)
    assert photos.read(DIGEST) == BODY


def test_the_last_room_of_a_disk_is_for_readings(tmp_path: Path) -> None:
    photos = PhotoFolder(tmp_path, least_free_bytes=2**62)
    with pytest.raises(StoreError, match="without one"):
        photos.keep(BODY)
    assert list((tmp_path / FOLDER).iterdir()) == []


def test_a_folder_that_cannot_be_used_is_a_store_error(tmp_path: Path) -> None:
    (tmp_path / FOLDER).write_text("in the way")
    with pytest.raises(StoreError, match="could not be"):
        PhotoFolder(tmp_path, least_free_bytes=0).keep(BODY)
    with pytest.raises(StoreError, match="could not be"):
        PhotoFolder(tmp_path, least_free_bytes=0).drop(DIGEST)


def test_a_copy_takes_what_is_not_there_yet_and_nothing_else(tmp_path: Path) -> None:
    data, to = tmp_path / "data", tmp_path / "to"
    data.mkdir()
    assert copy_missing(data, to) == 0
    assert not to.exists()
    photos = PhotoFolder(data, least_free_bytes=0)
    photos.keep(BODY)
    (data / FOLDER / ".half.part").write_bytes(b"x")
    assert (copy_missing(data, to), copy_missing(data, to)) == (1, 0)
    assert [path.name for path in (to / FOLDER).iterdir()] == [DIGEST]
