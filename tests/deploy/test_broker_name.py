from __future__ import annotations

from pathlib import Path

import pytest

from deploy.broker_name import FILE, named
from ingest.address import BrokerAddress
from shared.errors import BrokerError

SIGNED_IN = BrokerAddress("127.0.0.1", 8883, "slabhour", "the-service-itself", tls=True)


def test_the_name_lasts_when_the_password_is_another_and_in_a_data_folder_made_anew(tmp_path: Path) -> None:
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
    first = named(SIGNED_IN, tmp_path / "one", lasting=True)
    assert len(first.name_end) == 17
    assert (tmp_path / "one" / FILE).stat().st_mode & 0o077 == 0
    other = BrokerAddress("127.0.0.1", 8883, "slabhour", "another-password", tls=True)
    assert named(other, tmp_path / "one", lasting=True).name_end == first.name_end
    assert named(SIGNED_IN, tmp_path / "two", lasting=True) == first
    assert first.name_end not in repr(first)


def test_a_password_of_one_start_gives_no_name_and_nobody_signs_in_without_one(tmp_path: Path) -> None:
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
    ends = {named(SIGNED_IN, tmp_path / folder, lasting=False).name_end for folder in ("one", "two")}
    assert len(ends) == 2
    assert named(SIGNED_IN, tmp_path / "one", lasting=False).name_end in ends
    plain = BrokerAddress("127.0.0.1", 1883)
    assert named(plain, tmp_path / "absent", lasting=True) == plain


def test_a_file_that_says_something_else_is_told_with_the_mend(tmp_path: Path) -> None:
    (tmp_path / FILE).write_text("x", encoding="utf-8")
    with pytest.raises(BrokerError, match="take the file away"):
        named(SIGNED_IN, tmp_path, lasting=True)
    with pytest.raises(BrokerError, match="cannot be read or written"):
        named(SIGNED_IN, tmp_path / "absent", lasting=True)


def test_who_signs_in_by_a_certificate_has_a_secret_name_too(tmp_path: Path) -> None:
    (tmp_path / "site.key").write_text("of this service alone", encoding="utf-8")
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
    own = BrokerAddress("127.0.0.1", 8883, tls=True, cert_file="site.pem", key_file=str(tmp_path / "site.key"))
    first = named(own, tmp_path / "one", lasting=True)
    assert len(first.name_end) == 17
    assert named(own, tmp_path / "two", lasting=True) == first
