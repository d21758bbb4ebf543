from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from ingest_support import NOW, TOPIC, pack, warm
from store_support import make_setup

from alerts.transport import RecordingTransport
from deploy.check import Checked, check
from deploy.folders import with_data
from deploy.logger_keys import logger_keys, signing
from deploy.wiring import build
from shared.clock import SimulatedClock
from shared.errors import SetupError
from shared.models.readings import Reason
from shared.models.setup import Setup

KEY = "ab" * 32


def keyed(folder: Path, name: str | None) -> Setup:
    plain = make_setup()
    site = plain.site.site.model_copy(update={"keys_file": name})
    return replace(plain, site=plain.site.model_copy(update={"site": site}), folder=str(folder))


def test_the_service_takes_nothing_unsigned_of_a_logger_that_has_a_key(tmp_path: Path) -> None:
    (tmp_path / "keys").write_text(f"lg-01 {KEY}\nlg-77 {KEY}\n", encoding="utf-8")
    setup = with_data(keyed(tmp_path, "keys"), tmp_path / "var")
    assert signing(setup) == "2 loggers must sign their messages; in no bay of the site file: lg-77"
    assert signing(keyed(tmp_path, None)) == "no logger must sign its messages"
    with build(setup, clock=SimulatedClock(NOW), transport=RecordingTransport()) as service:
        service.intake.take([service.intake.incoming(TOPIC, pack(warm(30.0)))])
        assert [r.refused.reason for r in service.book.refused.standing(None)] == [Reason.SIGNATURE]


def test_check_says_that_the_file_is_not_private_or_wrong_and_repeats_no_key(tmp_path: Path) -> None:
    (tmp_path / "keys").write_text(f"lg-01 {KEY}x\n", encoding="utf-8")
    (tmp_path / "keys").chmod(0o644)
    found: list[Checked] = []
    check(with_data(keyed(tmp_path, "keys"), tmp_path / "var"), SimulatedClock(NOW), found.append)
    said = {one.found: one.mend for one in found if not one.ok}
    assert said["keys can be read by others"] == "chmod 600 keys"
    (wrong,) = [line for line in said if "a line that is none" in line]
    assert said[wrong] == "correct [site] keys_file, or that file"
    assert KEY not in str(found)


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(SetupError, match=r"site\.keys_file: found absent: No such file"):
        logger_keys(keyed(tmp_path, "absent"))
    (tmp_path / "bytes").write_bytes(b"\xff\xfe")
    with pytest.raises(SetupError, match=r"site\.keys_file: found bytes: is no text"):
        logger_keys(keyed(tmp_path, "bytes"))
