from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from deploy.maps import load_map, map_of, to_toml
from shared.errors import SetupError
from shared.models.files import ColumnMap, SensorColumn

LONG: dict[str, Any] = {"time": "t", "sensor": "s", "value": "v", "unit": "degC"}
COLUMN = {"name": "temp 1", "id": "lg-01.1"}
LINE = st.text(st.characters(exclude_characters="\r\n", exclude_categories=["Cs", "Cc"]), min_size=1, max_size=20)


def test_options_make_a_map_by_themselves() -> None:
    assert map_of(None, LONG) == ColumnMap(**LONG)
    assert map_of(None, {"time": "t", "unit": "degF", "columns": [COLUMN]}).columns[0].sensor_id == "lg-01.1"


def test_options_stand_above_a_map_and_the_other_shape_goes() -> None:
    long, wide = ColumnMap(**LONG), map_of(None, {"time": "t", "unit": "degF", "columns": [COLUMN]})
    assert map_of(long, {"value": "other", "zone": "UTC"}) == ColumnMap(**{**LONG, "value": "other", "zone": "UTC"})
    assert map_of(long, {"columns": [COLUMN]}).sensor is None
    assert map_of(wide, {"sensor": "s", "value": "v"}).columns == ()


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({}, "unit: found nothing"),
        ({**LONG, "unit": "K"}, 'unit: found "K"'),
        ({**LONG, "zone": "Atlantis"}, "zone: found"),
        ({**LONG, "header_line": 0}, "header_line: found 0"),
        ({"time": "t", "unit": "degC", "columns": [{"name": "a", "id": "LG"}]}, 'found "LG"'),
        ({"time": "t", "unit": "degC"}, "columns: found neither"),
    ],
)
def test_what_is_missing_or_wrong_is_named(options: dict[str, Any], said: str) -> None:
    with pytest.raises(SetupError, match="column map: ") as caught:
        map_of(None, options)
    assert said in str(caught.value)


def test_a_map_in_a_file_is_read_with_every_fault(tmp_path: Path) -> None:
    path = tmp_path / "m.toml"
    path.write_text('time = "t"\nunit = "K"\nzone = "Atlantis"\nfoo = 1\n', encoding="utf-8")
    with pytest.raises(SetupError) as caught:
        load_map(path)
    assert sorted(f.field for f in caught.value.faults) == ["columns", "foo", "unit", "zone"]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(LINE, LINE, st.booleans())
def test_a_map_that_is_written_is_read_back(tmp_path: Path, time: str, name: str, wide: bool) -> None:
    shape: dict[str, Any] = {"sensor": name, "value": "v"}
    if wide:
        shape = {"columns": (SensorColumn(name=name, id="lg-01.1"), SensorColumn(name=name + "x", id="lg-01.2"))}
    columns = ColumnMap(time=time, unit="degF", zone="-04:00", header_line=7, decimal="comma", **shape)
    path = tmp_path / "m.toml"
    path.write_text(to_toml(columns), encoding="utf-8")
    assert load_map(path) == columns
