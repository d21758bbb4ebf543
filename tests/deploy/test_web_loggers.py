from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from store_support import make_setup

from deploy.web_loggers import taken_by_web, web_loggers
from shared.errors import SetupError
from shared.models.setup import Setup


def named(folder: Path, *, web: str | None = None, broker: str | None = None) -> Setup:
    plain = make_setup()
    tables = {
        "web": plain.site.web.model_copy(update={"loggers_file": web}),
        "broker": plain.site.broker.model_copy(update={"loggers_file": broker}),
    }
    return replace(plain, site=plain.site.model_copy(update=tables), folder=str(folder))


def test_webs_own_file_counts_else_the_brokers_else_nobody_may_send(tmp_path: Path) -> None:
    (tmp_path / "one").write_text("lg-01 a-long-password-1\n", encoding="utf-8")
    (tmp_path / "two").write_text("lg-02 a-long-password-2\nlg-03 a-long-password-3 # gate\n", encoding="utf-8")
    assert web_loggers(named(tmp_path, web="one", broker="two")) == {"lg-01": "a-long-password-1"}
    assert set(web_loggers(named(tmp_path, broker="two"))) == {"lg-02", "lg-03"}
    assert web_loggers(named(tmp_path)) == {}
    assert taken_by_web(named(tmp_path, broker="two")).endswith("from 2 that may sign in")
    assert taken_by_web(named(tmp_path)).startswith("no readings by HTTP")


@pytest.mark.parametrize("table", ["web", "broker"])
def test_a_file_that_cannot_be_read_is_named_by_its_table(tmp_path: Path, table: str) -> None:
    with pytest.raises(SetupError, match=rf"{table}\.loggers_file: found absent: No such file"):
        web_loggers(named(tmp_path, **{table: "absent"}))
    (tmp_path / "bytes").write_bytes(b"\xff\xfe")
    with pytest.raises(SetupError, match=rf"{table}\.loggers_file: found bytes: is no text"):
        web_loggers(named(tmp_path, **{table: "bytes"}))


def test_a_fault_in_the_file_repeats_no_password(tmp_path: Path) -> None:
    (tmp_path / "one").write_text("lg-01 planted-but-two words\n", encoding="utf-8")
    with pytest.raises(SetupError) as found:
        web_loggers(named(tmp_path, web="one"))
    assert "planted" not in str(found.value)
