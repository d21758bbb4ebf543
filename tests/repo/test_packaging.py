from __future__ import annotations

import importlib
from importlib.metadata import entry_points, packages_distributions
from pathlib import Path

import pytest
from hatchling.builders.wheel import WheelBuilder
from installed_wheel import missing_from
from repo_support import PACKAGES, ROOT, files


def test_nobody_else_installs_a_package_of_one_of_our_names() -> None:
    owners = packages_distributions()
    assert {name: set(owners.get(name, [])) - {"slabhour"} for name in PACKAGES} == {name: set() for name in PACKAGES}


def test_all_five_packages_come_from_one_folder() -> None:
    folders = {Path(importlib.import_module(name).__path__[0]).resolve().parent for name in PACKAGES}
    assert len(folders) == 1


def test_the_command_is_slabhour() -> None:
    (script,) = entry_points(group="console_scripts", name="slabhour")
    assert script.value == "deploy.cli:main"
    assert callable(script.load())


@pytest.fixture(scope="module")
def in_wheel() -> set[str]:
    builder = WheelBuilder(str(ROOT))
    return {Path(f.distribution_path).as_posix() for f in builder.recurse_included_files()}


def test_the_wheel_holds_every_file_of_the_packages(in_wheel: set[str]) -> None:
    ours = {p.as_posix() for p in files() if p.parts[0] in PACKAGES}
    assert ours - in_wheel == set()


def test_the_wheel_holds_the_packages_and_nothing_else(in_wheel: set[str]) -> None:
    assert {name.partition("/")[0] for name in in_wheel} == set(PACKAGES)
    assert not [name for name in in_wheel if "__pycache__" in name or name.endswith((".db", ".pyc"))]


def test_the_wheel_carries_types_and_the_demo_site(in_wheel: set[str]) -> None:
    assert {f"{name}/py.typed" for name in PACKAGES} <= in_wheel
    assert {"deploy/demo/site.toml", "deploy/demo/readings.csv", "deploy/demo/calibrations/c32-f-v1.toml"} <= in_wheel


def test_a_file_that_a_wheel_lacks_is_noticed(tmp_path: Path) -> None:
    for name in PACKAGES:
        (tmp_path / name).mkdir()
    assert "shared/units.py" in missing_from(tmp_path, ROOT)
    assert missing_from(ROOT, ROOT) == []
