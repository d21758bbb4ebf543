from __future__ import annotations

from pathlib import Path

import pytest
from store_support import T0, make_setup, make_site, site_dict

from deploy.anchors import FILE, KEPT, Anchors, anchors_of
from shared.errors import StoreError


def test_anchors_are_read_as_they_were_written(tmp_path: Path) -> None:
    anchors = Anchors(tmp_path / "elsewhere" / FILE)
    assert anchors.read() == ()
    for seq in range(1, KEPT + 10):
        anchors.add((seq, f"{seq:064x}"), T0)
    assert anchors.read() == tuple((seq, f"{seq:064x}") for seq in range(10, KEPT + 10))


@pytest.mark.parametrize("cut", range(1, 20))
def test_a_line_that_was_cut_off_is_left_out_and_the_next_one_is_whole(tmp_path: Path, cut: int) -> None:
    anchors = Anchors(tmp_path / FILE)
    anchors.add((1, "a"), T0)
    anchors.add((2, "b"), T0)
    anchors.path.write_bytes(anchors.path.read_bytes()[:-cut])
    anchors.add((3, "c"), T0)
    assert set(anchors.read()) - {(2, "b")} == {(1, "a"), (3, "c")}


@pytest.mark.row("S7")
def test_an_older_book_that_was_accepted_takes_the_place_of_what_lies_beyond_it_and_all_stays_written(
    tmp_path: Path,
) -> None:
    anchors = Anchors(tmp_path / FILE)
    for seq in (2, 5, 9):
        anchors.add((seq, f"{seq}"), T0)
    anchors.add((6, "6"), T0, restored=True)
    assert anchors.read() == ((2, "2"), (5, "5"), (6, "6"))
    anchors.add((8, "other 8"), T0)
    assert anchors.read()[-1] == (8, "other 8")
    assert '"seq": 9' in anchors.path.read_text()


def test_anchors_that_say_something_else_are_no_anchors(tmp_path: Path) -> None:
    (tmp_path / FILE).write_text('{"seq": "x"}\n')
    with pytest.raises(StoreError, match="cannot be read"):
        Anchors(tmp_path / FILE).read()


def test_anchors_lie_where_the_site_file_says(tmp_path: Path) -> None:
    setup = make_setup(folder=str(tmp_path))
    assert anchors_of(setup, tmp_path / "var").path == tmp_path / "var" / FILE
    site = make_site(site={**site_dict()["site"], "anchors": "other-disk/a.jsonl"})
    assert anchors_of(make_setup(site, folder=str(tmp_path)), tmp_path).path == tmp_path / "other-disk" / "a.jsonl"
