"""Drafts: the newest of a name, whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from shared.errors import StoreError
from shared.store.drafts import FOLDER, DraftFolder

NAME = "calibrate c32-f ../qc\n1"
SAID = {"breaks": "specimen,age_h\r\na,12\n", "laboratory": "Béton"}


def test_a_draft_is_read_as_it_was_kept_last_by_its_own_name_alone(tmp_path: Path) -> None:
    drafts = DraftFolder(tmp_path, least_free_bytes=0)
    assert drafts.read(NAME) is None
    drafts.keep(NAME, {"breaks": "old"})
    drafts.keep(NAME, SAID)
    drafts.keep("calibrate c40", {"breaks": "other"})
    assert DraftFolder(tmp_path).read(NAME) == SAID
    held = sorted((tmp_path / FOLDER).iterdir())
    assert (len(held), {path.stat().st_mode & 0o777 for path in held}) == (2, {0o600})
    drafts.drop(NAME)
    drafts.drop(NAME)
    assert (drafts.read(NAME), drafts.read("calibrate c40")) == (None, {"breaks": "other"})


@pytest.mark.parametrize("damage", ['{"name": "calib', "[]", '{"name": "another", "said": {}}', '"x"'])
def test_a_file_that_is_no_draft_of_that_name_is_none(tmp_path: Path, damage: str) -> None:
    drafts = DraftFolder(tmp_path, least_free_bytes=0)
    drafts.keep(NAME, SAID)
    [path] = (tmp_path / FOLDER).iterdir()
    path.write_text(damage)
    assert drafts.read(NAME) is None


def test_a_full_disk_or_a_folder_that_cannot_be_used_is_a_store_error(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="make room"):
        DraftFolder(tmp_path, least_free_bytes=2**62).keep(NAME, SAID)
    assert list((tmp_path / FOLDER).iterdir()) == []
    (tmp_path / FOLDER).rmdir()
    (tmp_path / FOLDER).write_text("in the way")
    drafts = DraftFolder(tmp_path, least_free_bytes=0)
    with pytest.raises(StoreError, match="could not be kept"):
        drafts.keep(NAME, SAID)
    with pytest.raises(StoreError, match="could not be read"):
        drafts.read(NAME)
    with pytest.raises(StoreError, match="could not be thrown away"):
        drafts.drop(NAME)
