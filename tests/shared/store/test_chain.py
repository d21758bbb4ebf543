"""The log is a chain: what is changed in it is found."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from store_support import T0, make_message, opened_book

from shared.errors import StoreError
from shared.models.base import THE_SITE
from shared.models.decisions import LogEntry
from shared.models.messages import MessageKind
from shared.store import chain, verify_log

UNTRIGGER = "DROP TRIGGER log_no_update; DROP TRIGGER log_no_delete;"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    with opened_book(tmp_path) as book, book.writing() as connection:
        chain.append(connection, [LogEntry(T0 + n, "qc", "gate", {"n": n, "text": "é\u2028"}) for n in range(20)])
    return tmp_path


def test_a_log_as_written_verifies_while_open_and_closed(folder: Path) -> None:
    lines, newest = verify_log(None, folder)
    assert (lines, len(newest)) == (22, 64)
    with opened_book(folder) as book:
        assert book.service.verify_log() == (lines, newest)


def test_a_log_longer_than_a_page_verifies(folder: Path) -> None:
    with opened_book(folder) as book, book.writing() as connection:
        chain.append(connection, [LogEntry(T0, "qc", "gate", {"n": n}) for n in range(2_100)])
    assert verify_log(None, folder)[0] == 2_122


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
        verify_log(None, folder)


def _cut_after(folder: Path, seq: int) -> None:
    with closing(sqlite3.connect(folder / "site.db")) as raw:
        raw.executescript(UNTRIGGER)
        raw.execute("DELETE FROM log WHERE seq > ?", (seq,))
        raw.commit()


def _grown(folder: Path) -> tuple[int, str]:
    """Let the log grow by a few lines; return its newest one."""
    with opened_book(folder) as book:
        with book.writing() as connection:
            chain.append(connection, [LogEntry(T0 + 99, "qc", "gate", {"n": n}) for n in range(3)])
        return book.service.log_head()


@pytest.mark.row("S7")
def test_an_older_book_put_back_is_found_by_any_anchor_of_the_newer_one(folder: Path, tmp_path: Path) -> None:
    backup = tmp_path / "backup.db"
    with opened_book(folder) as book:
        anchored_then = book.service.log_head()
    shutil.copy(folder / "site.db", backup)
    newest = _grown(folder)
    assert verify_log(None, folder, [anchored_then, newest]) == newest
    shutil.copy(backup, folder / "site.db")
    # By itself it is in order: only what was kept elsewhere tells.
    assert verify_log(None, folder, [anchored_then]) == anchored_then
    with pytest.raises(StoreError, match=f"log line {newest[0]} is not the one"):
        verify_log(None, folder, [anchored_then, newest])
    with opened_book(folder) as book, pytest.raises(StoreError, match="older or another log"):
        book.service.verify_log([newest])


@pytest.mark.row("S7")
def test_an_older_book_that_was_gone_on_with_is_found_though_its_log_is_as_long(folder: Path, tmp_path: Path) -> None:
    backup = tmp_path / "backup.db"
    shutil.copy(folder / "site.db", backup)
    newest = _grown(folder)
    shutil.copy(backup, folder / "site.db")
    with opened_book(folder) as book, book.writing() as connection:
        chain.append(connection, [LogEntry(T0 + 99, "qc", "gate", {"another": n}) for n in range(5)])
    with pytest.raises(StoreError, match=f"log line {newest[0]} is not the one"):
        verify_log(None, folder, [newest])


@pytest.mark.row("S7")
def test_a_log_that_was_cut_short_is_found_by_an_anchor(folder: Path) -> None:
    newest = _grown(folder)
    _cut_after(folder, newest[0] - 1)
    assert verify_log(None, folder)[0] == newest[0] - 1
    with pytest.raises(StoreError, match=f"log line {newest[0]} is not the one"):
        verify_log(None, folder, [newest])


@pytest.mark.row("S7")
def test_a_log_that_was_cut_short_is_found_by_the_messages_that_stand_in_it(folder: Path) -> None:
    with opened_book(folder) as book:
        assert book.cure.messages_of_site([make_message(MessageKind.MORNING_LIST, pour=THE_SITE)]) == 1
        number, _ = book.service.log_head()
    assert verify_log(None, folder)[0] == number
    _cut_after(folder, number - 1)
    with pytest.raises(StoreError, match=r"log line of message no\. 1 is gone"):
        verify_log(None, folder)


@pytest.mark.parametrize("kept", ["", "0", "x" * 64])
def test_an_anchor_without_the_right_hash_vouches_for_nothing(folder: Path, kept: str) -> None:
    number, newest = verify_log(None, folder)
    assert verify_log(None, folder, [(number, newest[:8])]) == (number, newest)
    kept = "1" if newest.startswith(kept) and kept else kept
    with pytest.raises(StoreError, match=f"log line {number} "):
        verify_log(None, folder, [(number, kept)])
