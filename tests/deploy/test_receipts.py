from __future__ import annotations

from pathlib import Path

import pytest

from deploy.receipts import Example, Receipt, Receipts, digest_of, new_receipt, to_json
from ingest.columns import Wrong
from shared.errors import StoreError
from shared.models.base import SensorId
from shared.models.files import ColumnMap
from shared.models.readings import Reason

LONG = ColumnMap(time="t", sensor="s", value="v", unit="degC")


def receipt(folder: Path, text: str = "abc", columns: ColumnMap = LONG, name: str = "r.csv") -> Receipt:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return new_receipt(path, columns, 7)


def test_an_import_is_known_by_content_and_map_and_not_by_name(tmp_path: Path) -> None:
    first = receipt(tmp_path)
    # SHA-256 of "abc": FIPS 180-2, B.1 (from memory).
    assert digest_of(tmp_path / "r.csv") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert receipt(tmp_path, name="other.csv").id == first.id
    assert receipt(tmp_path, text="abd").id != first.id
    assert receipt(tmp_path, columns=LONG.model_copy(update={"unit": "degF"})).id != first.id


def test_what_is_saved_is_loaded(tmp_path: Path) -> None:
    one, receipts = receipt(tmp_path), Receipts(tmp_path)
    assert receipts.load(one.id) is None
    tally = one.of("lg-01.1")
    tally.stored, tally.refused = 3, {Reason.RANGE: 2}
    one.of(None).refused[Reason.SCHEMA] = 1
    one.examples.append(Example(2, "lg-01.1", Reason.RANGE, "hot"))
    with receipts.refusals(one):
        receipts.save(one)
    loaded = receipts.load(one.id)
    assert loaded == one
    assert (one.refused, one.total("stored"), one.worked) == (3, 3, True)
    assert to_json(one)["sensors"][""]["refused"] == {"schema": 1}
    receipts.forget(one.id)
    assert receipts.load(one.id) is None


def test_a_file_that_gave_nothing_but_refusals_has_not_worked(tmp_path: Path) -> None:
    one = receipt(tmp_path)
    assert one.worked  # no row, nothing refused
    one.of(None).refused[Reason.SCHEMA] = 1
    assert not one.worked
    one.of("lg-01.1").repeated = 1
    assert one.worked


def test_refusals_that_the_receipt_does_not_know_of_are_cut_off(tmp_path: Path) -> None:
    one, receipts = receipt(tmp_path), Receipts(tmp_path)
    wrong = Wrong(2, Reason.SCHEMA, "no number", SensorId("lg-01.1"), "=1,2")
    with receipts.refusals(one) as refusals:
        refusals.write([wrong])
        refusals.flush()
        known = one.refused_bytes
        refusals.write([wrong, wrong])
    with receipts.refusals(one):
        pass
    text = receipts.refused(one.id).read_text(encoding="utf-8")
    assert len(text) == known
    assert text.splitlines() == ["line,sensor,reason,detail,row", '2,lg-01.1,schema,no number,"\'=1,2"']


def test_a_receipt_that_cannot_be_read_says_what_follows(tmp_path: Path) -> None:
    receipts = Receipts(tmp_path)
    receipts.path("x").parent.mkdir()
    receipts.path("x").write_text('{"id": 1}', encoding="utf-8")
    with pytest.raises(StoreError, match="without it the import begins anew"):
        receipts.load("x")
