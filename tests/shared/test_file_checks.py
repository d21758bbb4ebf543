from __future__ import annotations

from typing import Any

import pytest

from shared.file_checks import incoming_is_whole, map_doubts

LONG: dict[str, Any] = {"time": "t", "unit": "degC", "sensor": "s", "value": "v"}
WIDE: dict[str, Any] = {
    "time": "t",
    "unit": "degC",
    "columns": [{"name": "a", "id": "lg-01.1"}, {"name": "b", "id": "lg-01.2"}],
}


@pytest.mark.parametrize(
    "table", [LONG, WIDE, {**LONG, "date": "d"}, {**LONG, "zone": "-04:00"}, {**WIDE, "zone": "America/Halifax"}]
)
def test_a_whole_map_raises_no_doubt(table: dict[str, Any]) -> None:
    assert list(map_doubts(table)) == []


@pytest.mark.parametrize(
    ("table", "path"),
    [
        ({"time": "t", "unit": "degC"}, ("columns",)),
        ({**LONG, "value": None}, ("columns",)),
        ({**LONG, "columns": WIDE["columns"]}, ("columns",)),
        ({**WIDE, "sensor": "s"}, ("columns",)),
        ({**LONG, "zone": "Atlantis"}, ("zone",)),
        ({**LONG, "date": "t"}, ("date",)),
        ({**WIDE, "date": "d", "time_format": "unix"}, ("date",)),
        ({**WIDE, "columns": [*WIDE["columns"], {"name": "a", "id": "lg-01.3"}]}, ("columns", 2, "name")),
        ({**WIDE, "columns": [*WIDE["columns"], {"name": "c", "id": "lg-01.1"}]}, ("columns", 2, "id")),
    ],
)
def test_what_one_field_cannot_know_is_named_with_its_place(table: dict[str, Any], path: tuple[str | int, ...]) -> None:
    assert [doubt.path for doubt in map_doubts(table)] == [path]


def test_the_site_files_map_is_held_to_the_same_and_may_be_absent() -> None:
    assert list(incoming_is_whole({})) == []
    assert [doubt.path for doubt in incoming_is_whole({"incoming": {"time": "t"}})] == [("incoming", "columns")]
