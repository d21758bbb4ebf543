from __future__ import annotations

from pathlib import Path

from deploy_support import START_MS, write_site

from deploy.check_weather import look_at_weather, secret_files
from shared.models.setup import Setup
from shared.sitefile import load

WEB = "[web]\nport = 0\n"


def setup(folder: Path, table: str) -> Setup:
    return load(write_site(folder, **{WEB: f"{WEB}[weather]\n{table}"}))


def test_a_way_in_that_cannot_be_used_is_wrong_and_says_how_to_mend_it(tmp_path: Path) -> None:
    put = setup(tmp_path, 'kind = "put"\ntoken_file = "t"\n')
    (looked,) = look_at_weather(put, START_MS)
    assert (looked.ok, "weather.token_file" in looked.found, bool(looked.mend)) == (False, True, True)
    assert secret_files(put) == {"t"}
    file = setup(tmp_path, 'kind = "file"\nfile = "w.csv"\n')
    found = list(look_at_weather(file, START_MS))
    assert [one.ok for one in found] == [False, False]
    assert "w.csv is not there" in found[0].found
    assert "no usable weather of w.csv has come yet" in found[1].found
    assert secret_files(file) == set()


def test_no_source_is_no_fault_but_is_said(tmp_path: Path) -> None:
    (looked,) = look_at_weather(setup(tmp_path, 'kind = "none"\n'), START_MS)
    assert looked.ok
    assert "wide error" in looked.found
