"""The oracle can fail: each thing that it watches is spoiled in turn, and it says so."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from copy import copy
from dataclasses import replace
from pathlib import Path

import pytest
from oracle import Oracle
from sim_parts import Heard, read
from sim_run import week_run
from sim_site import Run, Site
from world_radio import Faults


@pytest.fixture(scope="module")
def simulated(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Site, Oracle]]:
    """Two site-days without faults."""
    oracle = Oracle()
    site = Site(Run(4, 2.2, Faults(gateway_ms=3_600_000)), tmp_path_factory.mktemp("oracle") / "site", oracle)
    site.simulate()
    yield site, oracle
    site.close()


class Ran:
    """A copy of the simulated site, and what the oracle says of it."""

    def __init__(self, site: Site, oracle: Oracle, folder: Path) -> None:
        self.oracle, self.site = copy(oracle), copy(site)
        self.oracle.broken = []
        shutil.copytree(site.folder, folder)
        self.site.folder = folder
        self.site.book, self.site.readings = (folder / "var" / name for name in ("site.db", "readings.db"))
        self.site.told, self.site.channels = copy(site.told), copy(site.channels)
        self.site.told.written_ms = dict(site.told.written_ms)
        self.site.channels.ledger = [*site.channels.ledger]

    def spoil(self, store: str, *statements: str) -> None:
        """Change a store behind everybody's back."""
        with sqlite3.connect(self.site.folder / "var" / store, isolation_level=None) as connection:
            for statement in statements:
                connection.execute(statement)
        connection.close()

    def says(self) -> set[str]:
        """Return the invariants that are broken."""
        self.oracle.broken.clear()
        return {said.partition(": ")[2].partition(" ")[0] for said in self.oracle.end(self.site)}

    def heard(self, kind: str) -> Heard:
        """Return the first text of a kind that arrived."""
        numbers = {r["no"] for r in read(self.site.book, "SELECT no FROM message WHERE kind = ?", [kind])}
        return next(h for h in self.site.channels.ledger if h.arrived and numbers & set(h.numbers))


@pytest.fixture
def ran(simulated: tuple[Site, Oracle], tmp_path: Path) -> Iterator[Ran]:
    found = Ran(*simulated, tmp_path / "site")
    assert found.says() == set()
    assert found.oracle.releases
    yield found
    found.site.close()


def test_an_acknowledged_reading_that_is_gone_is_seen(ran: Ran) -> None:
    ran.spoil("readings.db", "DELETE FROM reading WHERE taken_ms = (SELECT min(taken_ms) FROM reading)")
    assert ran.says() == {"I1"}


def test_a_warmer_value_kept_is_seen(ran: Ran) -> None:
    ran.spoil("readings.db", "UPDATE reading SET milli_c = milli_c + 1000 WHERE sensor = 1")
    assert "I3" in ran.says()


def test_a_release_that_stands_on_colder_readings_is_seen(ran: Ran) -> None:
    ran.spoil("readings.db", "UPDATE reading SET milli_c = 2000")
    ran.spoil("site.db", "UPDATE gate SET state = 'released' WHERE operation = 'strip'")
    assert "I5" in ran.says()


def test_a_release_without_evidence_or_with_one_signer_twice_is_seen(ran: Ran) -> None:
    released = ran.oracle.releases[0]
    ran.spoil("readings.db", "UPDATE reading SET milli_c = 2000")
    ran.spoil("site.db", """UPDATE gate SET state = 'released', signers = '["qc", "qc"]'""")
    ran.oracle.broken.clear()
    ran.oracle._released(ran.site, ran.site.clock.now(), released.pour, released.operation)
    assert {said.partition(": ")[2][:2] for said in ran.oracle.broken} >= {"I5", "I6"}


def test_hours_credited_that_have_not_passed_are_seen(ran: Ran) -> None:
    ran.oracle.broken.clear()
    ran.oracle._credit(ran.site, ran.oracle.releases[0].pour, ran.site.clock.true_ms)
    assert "I4" in ran.oracle.broken[0]


def test_a_copy_without_a_doubt_is_seen(ran: Ran) -> None:
    ran.site.channels.ledger.append(ran.heard("released"))
    assert ran.says() == {"I7"}


def test_a_release_handed_over_too_late_is_seen(ran: Ran) -> None:
    heard = ran.heard("released")
    late = replace(heard, recipient="somebody", log_seq=10**9, site_ms=heard.site_ms + 10**9)
    ran.site.channels.ledger.append(late)
    assert ran.says() == {"I8"}


def test_a_withdrawal_that_nobody_sends_is_seen(ran: Ran) -> None:
    released = ran.heard("released")
    ran.site.told.written_ms[9999] = released.true_ms + 1
    row = read(ran.site.book, "SELECT pour, subject, epoch FROM message WHERE no = ?", [released.numbers[0]])[0]
    values = f"9999, 'withdrawal', '{row['pour']}', '{row['subject']}', {row['epoch']}, 0, NULL, '{{}}', 1, 0, ''"
    ran.spoil("site.db", f"INSERT INTO message VALUES ({values})")  # noqa: S608 - our own values
    assert ran.says() == {"I9"}


def test_a_changed_log_line_and_a_lost_one_are_seen(ran: Ran) -> None:
    triggers = [r["name"] for r in read(ran.site.book, "SELECT name FROM sqlite_master WHERE type = 'trigger'")]
    ran.site.close()
    drops = [f"DROP TRIGGER {name}" for name in triggers]
    ran.spoil("site.db", *drops, "UPDATE log SET who = 'nobody' WHERE seq = 3")
    assert ran.says() == {"I10"}


def test_a_damaged_file_is_seen(ran: Ran) -> None:
    ran.site.close()
    # An index without what it should hold, as after a page that was not written.
    ran.spoil("site.db", "PRAGMA writable_schema = ON", "DELETE FROM sqlite_schema WHERE name = 'refused_reading'")
    assert ran.says() == {"I11"}


def test_a_week_is_the_same_site_with_and_without_faults(tmp_path: Path) -> None:
    rough, perfect = (
        Site(run, tmp_path / name, Oracle()) for name, run in (("a", week_run(3)), ("b", week_run(3, Faults())))
    )
    assert [p.slab.weakest_mpa(p.end_ms + 10**8) for p in rough.people.pours] == [
        p.slab.weakest_mpa(p.end_ms + 10**8) for p in perfect.people.pours
    ]
