"""Stores that earlier versions wrote, kept as SQL, open in this one with all that is in them.

`kept/<version>` holds `site.sql` and `readings.sql` as `sqlite3 FILE .dump` prints them, with its `user_version`, of a
service of that version in which the little site of these tests, without an activation energy, has cured for 30 h. That
of 0.1.0 is written anew on the day of its release; until then it is an earlier state of what will be.
"""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Final

import deploy_support
import pytest
from deploy_support import POUR, START_MS, history, little_service
from repo_support import ROOT
from setup_support import CALIBRATION

from shared.models.base import HOUR_MS, STRIP
from shared.models.decisions import GateState
from shared.store import schema, verify_log

KEPT: Final = Path(__file__).parent / "kept"
LATER_MS: Final = START_MS + 31 * HOUR_MS
RELEASED: Final = re.compile(r"^## \[(\d+\.\d+\.\d+)\] - \d{4}-\d\d-\d\d", re.MULTILINE)


def written(version: str, folder: Path) -> None:
    """Make the stores of an earlier version in a data folder."""
    folder.mkdir(parents=True)
    for name in ("site", "readings"):
        with closing(sqlite3.connect(folder / f"{name}.db")) as raw:
            raw.executescript((KEPT / version / f"{name}.sql").read_text(encoding="utf-8"))


def told(folder: Path) -> dict[str, list[tuple[object, ...]]]:
    """Return what people did and what was decided, as the tables of every version have it."""
    asked = {
        "act": "SELECT no, at_ms, who, kind, pour, body FROM act",
        "pour": "SELECT id, bay, mix, start_ms, end_ms FROM pour",
        "calibration": "SELECT mix, version, body FROM calibration",
        "message": "SELECT no, kind, pour, at_ms FROM message",
        "delivery": "SELECT no, message, recipient, state FROM delivery",
        "log": "SELECT * FROM log",
    }
    with closing(sqlite3.connect(folder / "site.db")) as raw:
        return {name: raw.execute(f"{sql} ORDER BY 1").fetchall() for name, sql in asked.items()}


@pytest.mark.row("S9")
@pytest.mark.parametrize("version", sorted(path.name for path in KEPT.iterdir()))
def test_stores_of_an_earlier_version_open_with_all_that_is_in_them_and_the_service_goes_on(
    version: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    var = tmp_path / "var"
    lines_then = [one for one in CALIBRATION.splitlines() if not one.startswith("activation_energy")]
    monkeypatch.setattr(deploy_support, "CALIBRATION", "\n".join(lines_then))
    written(version, var)
    before = told(var)
    assert [row[3] for row in before["act"]] == ["pour_start", "pour_end"]
    with little_service(tmp_path, LATER_MS) as (service, clock):
        after = told(var)
        # What follows was written by this version, at its start.
        assert {name: rows[: len(before[name])] for name, rows in after.items()} == before
        (row,) = service.book.board.board()
        assert (row.pour.id, row.gates[STRIP].state) == (POUR, GateState.MET)
        # A round of this version's judges what that one stored.
        service.tick()
        (row,) = service.book.board.board()
        assert row.state.as_of_ms == clock.now()
        assert row.state.estimate is not None
        assert not service.book.service.doubts()
    with closing(sqlite3.connect(var / "readings.db")) as raw:
        assert raw.execute("SELECT count(*) FROM reading").fetchone() == (len(history(30)),)
    lines, _ = verify_log(None, var, ())
    assert lines >= len(before["log"])
    with closing(sqlite3.connect(var / "site.db")) as raw:
        assert raw.execute("SELECT version_num FROM alembic_version").fetchone() == (schema.REVISION,)


def test_stores_of_every_released_version_are_kept() -> None:
    changelog = (ROOT / "deploy" / "CHANGELOG.md").read_text(encoding="utf-8")
    assert set(RELEASED.findall(changelog)) <= {path.name for path in KEPT.iterdir()}
    # So that the rule is seen to bite when a version gets its day.
    assert RELEASED.findall("## [0.1.0] - 2027-01-31\n## [0.2.0] - unreleased\n") == ["0.1.0"]
