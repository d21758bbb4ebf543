"""What opening a book does with the set-up it is given."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import pytest
from sqlalchemy import text
from store_support import (
    AIR,
    BAY,
    EDGE,
    END,
    INSIDE,
    OTHER_BAY,
    POUR,
    T0,
    bay_dict,
    make_calibration,
    make_log,
    make_result,
    make_setup,
    make_site,
    opened_book,
    site_dict,
)

from shared.errors import StoreError
from shared.models.acts import PlaceSensor, instant
from shared.models.base import Ms, SensorId
from shared.models.decisions import Placement
from shared.models.setup import Setup, Zone
from shared.models.stores import StoreSettings, StoresSettings
from shared.store import open_book, open_readings
from shared.store.codec import canonical, digest_of

LATER = T0 + 3_600_000


def with_sensors(sensors: Iterable[dict[str, Any]]) -> Setup:
    return make_setup(make_site(bay=[bay_dict(sensors=list(sensors)), bay_dict(OTHER_BAY, first_logger=11)]))


def placements(folder: Path, setup: Setup | None = None, now: Ms = LATER) -> dict[SensorId, list[Placement]]:
    found: dict[SensorId, list[Placement]] = {}
    with opened_book(folder, setup, now, pours=0) as book:
        for placement in book.ingest.placements():
            found.setdefault(placement.sensor, []).append(placement)
    return found


def setups(folder: Path, *given: Setup) -> int:
    """Open the book with each of them; return how many were accepted as new."""
    for setup in given:
        with opened_book(folder, setup, LATER, pours=0) as book:
            lines = book.board.log_after(0)
    return sum(entry.what == "setup" for _, entry in lines)


def test_the_same_set_up_is_accepted_once(tmp_path: Path) -> None:
    assert setups(tmp_path, make_setup(), make_setup(folder="/elsewhere")) == 1


def test_a_changed_set_up_is_a_new_version_and_is_in_force(tmp_path: Path) -> None:
    site = site_dict()
    site["site"]["units"] = "US"
    assert setups(tmp_path, make_setup(), make_setup(make_site(**site)), make_setup()) == 3
    with opened_book(tmp_path, make_setup(make_site(**site)), LATER, pours=0) as book:
        assert book.board.site().site.units == "US"


def test_a_new_calibration_is_a_new_version_of_the_set_up(tmp_path: Path) -> None:
    assert setups(tmp_path, make_setup(), make_setup(calibrations=[make_calibration(version=2)])) == 2


def test_a_calibration_is_never_changed_under_its_version(tmp_path: Path) -> None:
    changed = make_setup(calibrations=[make_calibration(tested_from_h=4.0)])
    with opened_book(tmp_path) as book:
        before = book.board.log_after(0)
    with pytest.raises(StoreError, match="raise the version"):
        open_book(changed, tmp_path, LATER)
    with opened_book(tmp_path) as book:
        assert book.board.log_after(0) == before


def test_a_calibration_accepted_before_there_were_newer_fields_is_the_same_one_still(tmp_path: Path) -> None:
    older = make_calibration().model_dump(mode="json", exclude={"dose_class", "batch_sd_percent", "own_cylinders"})
    with opened_book(tmp_path) as book, book.writing() as connection:
        kept = connection.execute(text("SELECT digest, body FROM calibration")).one()
    assert tuple(kept) == (digest_of(older), canonical(older))


def test_a_version_that_was_in_force_before_may_come_back(tmp_path: Path) -> None:
    assert setups(tmp_path, make_setup(), make_setup(calibrations=[make_calibration(version=2)]), make_setup()) == 3
    with opened_book(tmp_path, now=LATER) as book:
        assert book.cure.case(POUR).calibration == make_calibration()


def test_a_data_folder_belongs_to_one_site(tmp_path: Path) -> None:
    other = site_dict()
    other["site"]["id"] = "other"
    with opened_book(tmp_path):
        pass
    with pytest.raises(StoreError, match="belongs to the site millrace"):
        open_book(make_setup(make_site(**other)), tmp_path, LATER)


def test_sensors_of_the_first_set_up_are_there_from_the_beginning(tmp_path: Path) -> None:
    """Loggers are cast in and heard before the service is first started."""
    assert {(p.from_ms, p.to_ms) for own in placements(tmp_path, now=T0).values() for p in own} == {(0, None)}


def test_a_sensor_that_left_the_file_ends_and_one_that_is_new_begins_now(tmp_path: Path) -> None:
    placements(tmp_path, now=T0)
    sensors = bay_dict()["sensors"]
    added = {"id": "lg-05.1", "zone": "top"}
    after = placements(tmp_path, with_sensors([*sensors[1:], added]))
    assert [(p.from_ms, p.to_ms) for p in after[EDGE]] == [(0, LATER)]
    assert [(p.from_ms, p.to_ms) for p in after[SensorId("lg-05.1")]] == [(LATER, None)]
    assert [(p.from_ms, p.to_ms) for p in after[INSIDE]] == [(0, None)]


def test_a_sensor_that_came_back_begins_again(tmp_path: Path) -> None:
    sensors = bay_dict()["sensors"]
    placements(tmp_path, with_sensors(sensors), T0)
    placements(tmp_path, with_sensors(sensors[1:]), LATER)
    after = placements(tmp_path, with_sensors(sensors), LATER + 9)
    assert [(p.from_ms, p.to_ms) for p in after[EDGE]] == [(0, LATER), (LATER + 9, None)]


def test_a_sensor_moved_to_another_zone_or_bay_ends_there_and_begins_here(tmp_path: Path) -> None:
    placements(tmp_path, now=T0)
    edge, inside, end, air = bay_dict()["sensors"]
    other = bay_dict(OTHER_BAY, first_logger=11)
    other["sensors"].append(end)
    site = make_site(bay=[bay_dict(sensors=[edge | {"zone": "top"}, inside, air]), other])
    after = placements(tmp_path, make_setup(site))
    assert [(p.zone, p.from_ms, p.to_ms) for p in after[EDGE]] == [("exposed edge", 0, LATER), ("top", LATER, None)]
    assert [(p.bay, p.from_ms, p.to_ms) for p in after[END]] == [(BAY, 0, LATER), (OTHER_BAY, LATER, None)]
    assert len(after[AIR]) == 1


def test_a_corrected_depth_interval_or_need_changes_the_placement_in_its_place(tmp_path: Path) -> None:
    placements(tmp_path, now=T0)
    edge, *others = bay_dict()["sensors"]
    after = placements(tmp_path, with_sensors([edge | {"depth_mm": 20, "interval_s": 600, "required": False}, *others]))
    (own,) = after[EDGE]
    assert (own.depth_mm, own.interval_s, own.required, own.from_ms, own.to_ms) == (20, 600, False, 0, None)


def test_a_clock_that_ran_back_never_ends_a_placement_before_it_began(tmp_path: Path) -> None:
    sensors = bay_dict()["sensors"]
    placements(tmp_path, with_sensors(sensors[1:]), T0)
    placements(tmp_path, with_sensors(sensors), LATER)
    after = placements(tmp_path, with_sensors(sensors[1:]), T0 + 1)
    assert [(p.from_ms, p.to_ms) for p in after[EDGE]] == [(LATER, LATER)]


def test_every_start_makes_open_pours_due_but_only_a_change_touches_them(tmp_path: Path) -> None:
    with opened_book(tmp_path) as book:
        case = book.cure.case(POUR)
        assert book.cure.record(case, make_result(case))
    with opened_book(tmp_path) as book:
        assert book.cure.due(0, 9) == [POUR]
        assert book.cure.case(POUR).touched == 0
    with opened_book(tmp_path, make_setup(calibrations=[])) as book:
        assert book.cure.case(POUR).touched == 1


def test_a_folder_that_is_not_there_is_made(tmp_path: Path) -> None:
    with opened_book(tmp_path / "a" / "b"):
        assert (tmp_path / "a" / "b" / "site.db").is_file()


def test_a_folder_that_is_a_file_is_a_store_error(tmp_path: Path) -> None:
    (tmp_path / "var").write_text("", encoding="utf-8")
    with pytest.raises(StoreError, match="data folder"):
        open_book(make_setup(), tmp_path / "var", T0)
    with pytest.raises(StoreError, match="data folder"):
        open_readings(make_setup(), tmp_path / "var")


def test_a_kind_of_store_that_is_not_there_is_named_with_those_that_are(tmp_path: Path) -> None:
    stone = StoreSettings.model_construct(kind=cast("Any", "stone"))
    site = make_site().model_copy(update={"stores": StoresSettings.model_construct(readings=stone)})
    with pytest.raises(StoreError, match="no store of kind stone: use one of influxdb, sqlite"):
        open_readings(make_setup(site), tmp_path)


def entered(folder: Path, *after: Placement, now: Ms = LATER) -> None:
    """Place a sensor by an act."""
    with opened_book(folder, now=now, pours=0) as book:
        act = PlaceSensor(at=instant(now), who="qc", sensor=after[0].sensor, bay=after[-1].bay, zone=after[-1].zone)
        assert book.cure.place(act, book.cure.placements_of(after[0].sensor), after, make_log())


MOVED = Placement(EDGE, OTHER_BAY, Zone.TOP, 20, 900, required=True, from_ms=LATER, position="grid C4", by="qc")


@pytest.mark.row("O13")
def test_what_was_entered_stays_while_its_line_in_the_file_stays(tmp_path: Path) -> None:
    was = placements(tmp_path, now=T0)[EDGE][0]
    new = replace(MOVED, sensor=SensorId("lg-07.1"))
    entered(tmp_path, replace(was, to_ms=LATER), MOVED)
    entered(tmp_path, new)
    entered(tmp_path, replace(placements(tmp_path)[INSIDE][0], to_ms=LATER + 1))
    edge, inside, end, air = bay_dict()["sensors"]
    for depth_mm in (50, 40):
        changed = with_sensors([edge | {"depth_mm": depth_mm}, inside | {"depth_mm": depth_mm}, end, air])
        after = placements(tmp_path, changed, LATER + 9)
        assert after[EDGE] == [replace(was, to_ms=LATER), MOVED]
        assert after[new.sensor] == [new]
        assert [p.to_ms for p in after[INSIDE]] == [LATER + 1]
        assert [p.depth_mm for p in after[END]] == [50]


def test_a_file_that_says_what_was_entered_keeps_its_begin_and_its_words(tmp_path: Path) -> None:
    was = placements(tmp_path, now=T0)[EDGE][0]
    entered(tmp_path, replace(was, to_ms=LATER), MOVED)
    edge, *others = bay_dict()["sensors"]
    other = bay_dict(OTHER_BAY, first_logger=11)
    other["sensors"].append(edge | {"zone": "top", "depth_mm": 30})
    after = placements(tmp_path, make_setup(make_site(bay=[bay_dict(sensors=others), other])), LATER + 9)
    assert after[EDGE] == [replace(was, to_ms=LATER), replace(MOVED, depth_mm=30)]


def test_a_line_that_leaves_the_file_ends_nothing_in_another_bay(tmp_path: Path) -> None:
    was = placements(tmp_path, now=T0)[EDGE][0]
    entered(tmp_path, replace(was, to_ms=LATER), MOVED)
    after = placements(tmp_path, with_sensors(bay_dict()["sensors"][1:]), LATER + 9)
    assert after[EDGE][-1] == MOVED
