"""The oracle of runs with real processes: raw rows, and ledgers that are not the service's. No code of the service.

I1 and I2 what was acknowledged is stored or refused, I3 one row a key, I6 different signers, I7 no silent copies, I8
and I9 nobody holds a release after its withdrawal, I10 the log, I11 the files, I14 no secret in a log.
I4 and I5 are judged where the truth of a slab is known (`oracle.py`), I12 and I13 by the runs themselves.
"""

from __future__ import annotations

import hashlib
import json
import re
import sqlite3
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import closing
from email.message import Message as Mail
from pathlib import Path
from typing import Any, Final, TypeAlias

Said: TypeAlias = tuple[str, int, int]
"""(sensor, taken [ms], thousandths of a degree)."""
INSISTENT: Final = frozenset({"withdrawal", "keep off"})
"""Kinds that are repeated until a person answers."""
PERMITS: Final = frozenset({"released", "requirement met, not signed"})


def rows(file: Path, query: str, values: Sequence[Any] = ()) -> list[sqlite3.Row]:
    """Return raw rows of a store, read beside whoever writes it."""
    with closing(sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True, timeout=10)) as connection:
        connection.row_factory = sqlite3.Row
        return connection.execute(query, tuple(values)).fetchall()


def kept(data: Path, acknowledged: Mapping[bytes, Sequence[Said]]) -> Iterator[str]:
    """I1, I2 and I3: each message that a broker acknowledged is stored, the coldest of its values, or refused.

    Args:
        data: the site's data folder.
        acknowledged: the publisher's own ledger: payloads and what each of them says.
    """
    query = "SELECT s.id, r.taken_ms, r.milli_c FROM reading r JOIN sensor s ON s.no = r.sensor"
    found = rows(data / "readings.db", query)
    stored = {(r["id"], r["taken_ms"]): r["milli_c"] for r in found}
    if len(stored) != len(found):
        yield f"I3 {len(found)} rows of {len(stored)} keys"
    refused = {bytes(r["payload"]): r["reason"] for r in rows(data / "site.db", "SELECT payload, reason FROM refused")}
    coldest: dict[tuple[str, int], int] = {}
    for payload, several in acknowledged.items():
        if payload in refused:
            if not refused[payload]:
                yield f"I1 refused without a reason: {payload!r}"
            continue
        for sensor, taken, milli_c in several:
            coldest[sensor, taken] = min(milli_c, coldest.get((sensor, taken), milli_c))
    for key, milli_c in coldest.items():
        if key not in stored:
            yield f"I1 acknowledged and gone: {key}"
        elif stored[key] != milli_c:
            yield f"I3 {key} is stored as {stored[key]}, {milli_c} was sent"


def log(lines: Iterable[sqlite3.Row], anchors: Path) -> Iterator[str]:
    """I10: each line carries the hash of the one before it, and every anchor is a line of it."""
    prev, hashes = "0" * 64, {}
    for line in lines:
        whole = {k: line[k] for k in ("at_ms", "who", "what")} | {"body": json.loads(line["body"])}
        text = json.dumps(whole, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
        found = hashlib.sha256((prev + text).encode("utf-8", "surrogatepass")).hexdigest()
        if line["prev"] != prev or line["hash"] != found:
            yield f"I10 line {line['seq']} of the log is not as it was written"
        prev = hashes[line["seq"]] = line["hash"]
    for anchor in map(json.loads, anchors.read_text().splitlines() if anchors.exists() else ()):
        if hashes.get(anchor["seq"]) != anchor["hash"]:
            yield f"I10 anchor {anchor['seq']} is not in the log"


def whole(data: Path) -> Iterator[str]:
    """I10 and I11: the log verifies, and neither file is damaged."""
    yield from log(rows(data / "site.db", "SELECT * FROM log ORDER BY seq"), data / "anchors.jsonl")
    for name in ("site.db", "readings.db"):
        said = [str(r[0]) for r in rows(data / name, "PRAGMA integrity_check")]
        if said != ["ok"]:
            yield f"I11 {name}: {said[0]}"


def planted(files: Iterable[Path], secrets: Sequence[str]) -> Iterator[str]:
    """I14: no secret that the site was given stands in a log."""
    for file in files:
        text = file.read_text(encoding="utf-8", errors="replace")
        yield from (f"I14 {file.name} holds the secret {n}" for n, secret in enumerate(secrets) if secret in text)


def numbers_of(mail: Mail[str, str]) -> list[int]:
    """Return the numbers of the messages that a mail brings."""
    found = re.findall(r"no\. (\d+)", " ".join(str(mail["Subject"]).split()))
    if not found:
        raise AssertionError(f"a mail without a number: {mail['Subject']}")
    return [int(one) for one in found]


def whom(mail: Mail[str, str]) -> str:
    """Return to whom a mail went."""
    return str(mail["To"]).split("@")[0]


def told(data: Path, mails: Sequence[Mail[str, str]]) -> Iterator[str]:
    """I6, I7, I8 and I9 by what a mail server took, in its order: once each, and a withdrawal after its release."""
    book = data / "site.db"
    messages = {m["no"]: m for m in rows(book, "SELECT no, kind, pour, subject FROM message")}
    bodies = (json.loads(r[0]) for r in rows(book, "SELECT body FROM log WHERE what = 'delivery'"))
    doubts = Counter((b["message"], b["recipient"]) for b in bodies if b["state"] == "unsure")
    times: Counter[tuple[int, str]] = Counter()
    last: dict[tuple[str, str, str], str] = defaultdict(str)
    for mail in mails:
        for no in numbers_of(mail):
            m, who = messages[no], whom(mail)
            times[no, who] += 1
            if m["kind"] in PERMITS | {"withdrawal"}:
                last[m["pour"], m["subject"], who] = m["kind"]
    for (no, who), count in times.items():
        if messages[no]["kind"] not in INSISTENT and count > 1 + doubts[no, who]:
            yield f"I7 message {no} reached {who} {count} times, {doubts[no, who]} doubts"
    for gate in rows(book, "SELECT pour, operation, state, signers FROM gate"):
        signers = json.loads(gate["signers"])
        if len(set(signers)) != len(signers):
            yield f"I6 {gate['operation']} of {gate['pour']} is signed by {signers}"
        if gate["state"] == "withdrawn":
            holding = [
                k[2] for k, kind in last.items() if k[:2] == (gate["pour"], gate["operation"]) and kind in PERMITS
            ]
            yield from (f"I8/I9 {who} holds a release of {gate['pour']} {gate['operation']} last" for who in holding)
