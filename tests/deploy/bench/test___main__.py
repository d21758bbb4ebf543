from __future__ import annotations

import json

import pytest

from deploy.bench.__main__ import main
from deploy.bench.rows import Row


def measure(name: str, *, short: bool) -> list[Row]:
    if name == "tick":
        raise RuntimeError("the disk is full")
    return [Row(f"{name}, short" if short else name, 1.0, "s", 2.0)]


def test_one_that_fails_costs_no_other_its_figures(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["growth", "tick", "pages", "--short"], measure) == 1
    said = capsys.readouterr().out.splitlines()
    assert [line.split("  ")[0] for line in said] == ["growth, short", "tick FAILED: the disk is full", "pages, short"]
    assert said[0].endswith("<= 2 met")


def test_the_table_comes_as_json_too(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["growth", "--json"], measure) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["failed"] == {}
    assert said["found"]["growth"][0] | {"met": True} == said["found"]["growth"][0]


def test_a_name_that_is_not_there_is_refused_with_those_that_are(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["speed"], measure)
    assert ended.value.code == 2
    assert "no benchmark is called speed; there are ingest, recompute" in capsys.readouterr().err
