from __future__ import annotations

import json
import threading
from pathlib import Path
from typing import Any

from server_support import TEXT

from alerts.channels.inbox import send


def job(folder: Path, number: int = 42, file: str = "inbox.jsonl") -> Any:
    text = {"subject": TEXT.subject, "body": TEXT.body, "short": TEXT.short}
    who = {"number": number, "numbers": [number], "site": "m", "recipient": "crew"}
    return {**who, "to": {"kind": "inbox", "file": file}, "text": text, "data": str(folder)}


def test_each_message_is_one_line(tmp_path: Path) -> None:
    assert [send(job(tmp_path, n)).kind for n in (41, 42)] == ["accepted", "accepted"]
    lines = [json.loads(line) for line in (tmp_path / "inbox.jsonl").read_text(encoding="utf-8").splitlines()]
    assert [line["number"] for line in lines] == [41, 42]
    assert lines[0]["short"] == TEXT.short
    assert lines[0]["recipient"] == "crew", "whoever reads the file sees whose message it is"


def test_a_line_that_a_killed_writer_left_half_does_not_spoil_the_next(tmp_path: Path) -> None:
    (tmp_path / "inbox.jsonl").write_text('{"number": 41, "sho', encoding="utf-8")
    assert send(job(tmp_path)).kind == "accepted"
    lines = (tmp_path / "inbox.jsonl").read_text(encoding="utf-8").splitlines()
    assert json.loads(lines[1])["number"] == 42


def test_many_writers_at_once_keep_their_lines_apart(tmp_path: Path) -> None:
    threads = [threading.Thread(target=send, args=(job(tmp_path, n),)) for n in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    lines = (tmp_path / "inbox.jsonl").read_text(encoding="utf-8").splitlines()
    assert sorted(json.loads(line)["number"] for line in lines) == list(range(20))


def test_a_folder_that_is_not_there_or_a_link_is_not_written_to(tmp_path: Path) -> None:
    assert send(job(tmp_path / "gone")).kind == "not now"
    (tmp_path / "inbox.jsonl").symlink_to(tmp_path / "elsewhere")
    assert send(job(tmp_path)).kind == "not now"
    assert not (tmp_path / "elsewhere").exists()
