"""What people put in force counts for the check too: the higher version, as for the service."""

from __future__ import annotations

from pathlib import Path

from deploy_support import little_service

from deploy.check import Checked, check
from deploy.check_calibrations import with_put_in_force
from shared.clock import SystemClock
from shared.store.accepted import put_in_force


def test_a_calibration_that_was_put_in_force_is_the_one_that_is_looked_at(tmp_path: Path) -> None:
    with little_service(tmp_path) as (service, clock):
        setup = service.setup
        (mix,) = {m.id for m in setup.site.mix} & set(setup.calibrations)
        assert with_put_in_force(setup) == (setup, [])
        newer = setup.calibrations[mix].model_copy(update={"version": 7, "made_on": "2999-10-19"})
        with service.book.writing() as connection:
            put_in_force(connection, newer, clock.now())
    found, said = with_put_in_force(setup)
    assert found.calibrations[mix].version == 7
    assert said == [f"{mix}: version 7 was put in force; the site file names version 1, and the higher one counts"]
    told: list[Checked] = []
    check(setup, SystemClock(), told.append)
    assert [one.found for one in told if one.what == "calibration" and one.ok] == said
    (ahead,) = [one for one in told if one.what == "calibration" and not one.ok]
    assert ahead.found == f"{mix}, version 7: its cylinders were made on 2999-10-19, which has not been yet"
    without = with_put_in_force(type(setup)(setup.site, {}, setup.folder))[1]
    assert without == [f"{mix}: version 7 was put in force; the site file names none, and the higher one counts"]
    (next(tmp_path.rglob("site.db"))).write_bytes(b"no book")
    assert with_put_in_force(setup) == (setup, [])
