"""The log is a chain: what is changed in it is found."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from store_support import T0, opened_book

from shared.errors import StoreError
from shared.models.decisions import LogEntry
from shared.store import chain, verify_log

UNTRIGGER = "DROP TRIGGER log_no_update; DROP TRIGGER log_no_delete;"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    with opened_book(tmp_path) as book, book.writing() as connection:
        chain.append(connection, [LogEntry(T0 + n, "qc", "gate", {"n": n, "text": "é\u2028"}) for n in range(20)])
    return tmp_path


def test_a_log_as_written_verifies_while_open_and_closed(folder: Path) -> None:
    lines, newest = verify_log(folder)
    assert (lines, len(newest)) == (22, 64)
    with opened_book(folder) as book:
        assert book.verify_log() == (lines, newest)


def test_a_log_longer_than_a_page_verifies(folder: Path) -> None:
    with opened_book(folder) as book, book.writing() as connection:
        chain.append(connection, [LogEntry(T0, "qc", "gate", {"n": n}) for n in range(2_100)])
    assert verify_log(folder)[0] == 2_122


@pytest.mark.parametrize("change", ["UPDATE log SET who = 'x'", "DELETE FROM log WHERE seq = 3"])
def test_the_log_can_only_grow(folder: Path, change: str) -> None:
    with (
        closing(sqlite3.connect(folder / "site.db")) as raw,
        pytest.raises(sqlite3.IntegrityError, match="append-only"),
    ):
        raw.execute(change)


@pytest.mark.parametrize(
    ("change", "line"),
    [
        ("UPDATE log SET at_ms = at_ms + 1 WHERE seq = 5", 5),
        ("UPDATE log SET who = 'super' WHERE seq = 6", 6),
        ("UPDATE log SET what = 'hold' WHERE seq = 7", 7),
        ("UPDATE log SET body = '{\"n\":99}' WHERE seq = 8", 8),
        ("UPDATE log SET prev = hash WHERE seq = 9", 9),
        ("UPDATE log SET hash = prev WHERE seq = 10", 10),
        ("DELETE FROM log WHERE seq = 11", 12),
        ("DELETE FROM log WHERE seq = 1", 2),
        ("UPDATE log SET seq = 99 WHERE seq = 12", 13),
        ("UPDATE log SET body = 'not JSON' WHERE seq = 13", None),
    ],
)
def test_a_changed_line_is_found_and_named(folder: Path, change: str, line: int | None) -> None:
    with closing(sqlite3.connect(folder / "site.db")) as raw:
        raw.executescript(f"{UNTRIGGER}{change};")
    with pytest.raises(StoreError, match="not JSON" if line is None else f"log line {line} "):
        verify_log(folder)
