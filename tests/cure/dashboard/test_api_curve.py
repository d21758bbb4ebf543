"""The curve of a bay for other software."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from api_support import V1, Office, office


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with office(tmp_path_factory.mktemp("office")) as found:
        yield found


def test_the_curve_of_a_bay_is_what_its_page_draws(shared: Office) -> None:
    curve = shared.read("bays/2-b1/curve")
    estimate = next(p for p in shared.read("board")["pours"] if p["bay"] == "2-b1")["estimate"]
    last = curve["strength"][-1]
    assert last["lower_bound_mpa"] == pytest.approx(estimate["lower_bound_mpa"], abs=1e-3)
    assert last["estimate_mpa"] == pytest.approx(estimate["strength_mpa"], abs=1e-3)
    assert {one["operation"] for one in curve["required"]} >= {"strip", "load"}
    assert [(s["sensor"], s["in_air"]) for s in curve["sensors"]][-1] == ("lg-09.1", True)
    said = curve["sensors"][0]["readings"]
    assert (said[0]["temperature_c"], said[-1]["at"][:13]) == (18.0, "2026-11-24T12")
    assert curve["counts_from_c"] == 5.0
    assert [curve["counted"][-1]["ends"], curve["cold"], curve["missing"]] == [said[-1]["at"], [], []]
    part = shared.read("bays/2-b1/curve", **{"from": "2026-11-24T06:00:00-04:00", "to": "2026-11-24T08:00:00-04:00"})
    hours = [one["at"] for s in part["sensors"] for one in s["readings"]] + [one["at"] for one in part["strength"]]
    assert min(hours) == "2026-11-24T06:00:00-04:00"
    assert max(hours) == "2026-11-24T08:00:00-04:00"
    assert part["counted"] == [{"begins": "2026-11-24T06:00:00-04:00", "ends": "2026-11-24T08:00:00-04:00"}]
    empty = shared.ask("GET", f"{V1}/bays/2-b2/curve", shared.token("read"))
    assert (empty.status_code, empty.json()["detail"]) == (404, "no pour is open in a bay 2-b2")
