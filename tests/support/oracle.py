"""The oracle of simulated days: reads raw rows and ledgers that are not the service's, and names what is broken.

Looked at while the site runs: I4 credit within real time, I5 released on evidence, I6 different signers. At the end:
I1 what was acknowledged is kept, I3 one row a key, I7 no silent copies, I8 no stale release, I9 withdrawals reach who
could hold the release, I10 the log, I11 the files. With real processes, I2 and I14 too: `oracle_files.py`.
"""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final

from oracle_files import whole
from oracle_reference import HOUR_MS, MINUTE_MS, Rows, Supported, supported
from sim_parts import Heard, read
from sim_site import Site
from world_radio import INTERVAL_MS, LOGGERS, said

LIMIT_MPA: Final = {"strip": 3.5, "walk": 3.5, "load": 7.0}
_OPEN: Final = {"released", "under way"}
_PERMITS: Final = {"released", "requirement met, not signed"}
_INSISTENT: Final = {"withdrawal", "keep off"}
_SLOWEST_MS: Final = 6 * MINUTE_MS
"""Attempts of a withdrawal follow each other within 5 min, and are looked for each minute."""


@dataclass
class Release:
    """One release as it happened."""

    pour: str
    operation: str
    true_ms: int
    truth_mpa: float
    unsafe: bool


@dataclass
class Oracle:
    """Call it after everything that happens on a site, and `end` at the end."""

    broken: list[str] = field(default_factory=list)
    releases: list[Release] = field(default_factory=list)
    met_ms: dict[tuple[str, str], int] = field(default_factory=dict)
    """True hour at which each requirement was first met."""
    _seq: int = 0
    _no: int = 0

    def __call__(self, site: Site) -> None:
        """Look at what was written since."""
        for line in read(site.book, "SELECT * FROM log WHERE seq > ? ORDER BY seq", [self._seq]):
            self._seq = line["seq"]
            if line["what"] == "gate":
                self._gate(site, line["at_ms"], json.loads(line["body"]))
        for row in read(site.book, "SELECT no FROM message WHERE no > ?", [self._no]):
            self._no = max(self._no, row["no"])
            site.told.written_ms.setdefault(row["no"], site.clock.true_ms)

    def _say(self, site: Site, what: str) -> None:
        day = (site.clock.true_ms - site.start_ms) / (24 * HOUR_MS)
        self.broken.append(f"seed {site.run.seed}, day {day:.2f}: {what}")

    def _gate(self, site: Site, at_ms: int, body: dict[str, Any]) -> None:
        pour, operation = str(body["pour"]), str(body["operation"])
        if body["to"] == "met":
            self.met_ms.setdefault((pour, operation), site.clock.true_ms)
        if body["to"] == "released" and body["from"] == "met":
            self._released(site, at_ms, pour, operation)

    def _released(self, site: Site, at_ms: int, pour: str, operation: str) -> None:
        row = read(site.book, "SELECT * FROM pour WHERE id = ?", [pour])[0]
        found = self._supported(site, row["start_ms"], row["end_ms"])
        for wrong in _wrong(found, operation, at_ms):
            self._say(site, f"I5 {operation} of {pour} released: {wrong}")
        gates = {g["operation"]: g for g in read(site.book, "SELECT * FROM gate WHERE pour = ?", [pour])}
        signers = json.loads(gates[operation]["signers"])
        if gates[operation]["state"] in _OPEN and not len(set(signers)) == len(signers) >= site.run.sign_offs:
            self._say(site, f"I6 {operation} of {pour} signed by {signers}")
        if operation == "load" and gates["strip"]["state"] != "done":
            self._say(site, f"I5 load of {pour} released, strip is {gates['strip']['state']}")
        self._credit(site, pour, row["end_ms"])
        slab = next(p.slab for p in site.people.pours if p.name == pour)
        truth = slab.weakest_mpa(site.clock.true_ms)
        unsafe = truth < LIMIT_MPA[operation]
        self.releases.append(Release(pour, operation, site.clock.true_ms, truth, unsafe))
        if unsafe:
            self._say(site, f"unsafe: {operation} of {pour} released at {truth:.2f} MPa")

    def _credit(self, site: Site, pour: str, end_ms: int) -> None:
        state = read(site.book, "SELECT estimate FROM pour_state WHERE pour = ?", [pour])[0][0]
        counted = json.loads(state)["counted_h"].values() if state else ()
        passed_h = (site.clock.true_ms - end_ms) / HOUR_MS
        if any(not h <= passed_h + 0.01 for h in counted):
            self._say(site, f"I4 {max(counted):.2f} h credited, {passed_h:.2f} h have passed")

    @staticmethod
    def _supported(site: Site, start_ms: int, end_ms: int) -> Supported | None:
        rows: dict[str, Rows] = {}
        for logger, zone in LOGGERS.items():
            query = "SELECT taken_ms, milli_c FROM reading WHERE sensor = (SELECT no FROM sensor WHERE id = ?)"
            some = read(site.readings, query + " AND taken_ms >= ? ORDER BY taken_ms", [f"{logger}.1", start_ms])
            rows[zone] = [(r["taken_ms"], r["milli_c"] / 1000.0) for r in some]
        air = rows.pop("air")
        return supported(rows, air, end_ms, INTERVAL_MS, site.clock.true_ms)

    def end(self, site: Site) -> list[str]:
        """Return everything that is broken, at the end of a run."""
        self(site)
        for what in (
            *_kept(site),
            *_copies(site),
            *_stale(site),
            *_withdrawn(site),
            *whole(site.folder / "var"),
            *self._stands(site),
        ):
            self._say(site, what)
        return self.broken

    def _stands(self, site: Site) -> Iterator[str]:
        """I5 at rest: no release stands on evidence that has turned."""
        if not site.told.up or site.told.up[-1][1] < site.until_ms or read(site.book, "SELECT * FROM doubt"):
            return
        query = "SELECT g.operation, p.* FROM gate g JOIN pour p ON p.id = g.pour"
        for row in read(site.book, query + " WHERE p.closed_ms IS NULL AND g.state IN ('released', 'under way')"):
            found = self._supported(site, row["start_ms"], row["end_ms"])
            if found is not None and found.counted_5_h < 23.9 and row["operation"] != "load":
                yield f"I5 {row['operation']} of {row['id']} stands on {found.counted_5_h:.2f} counted hours"
            if found is not None and found.bound_mpa < LIMIT_MPA[row["operation"]] - 1e-6:
                yield f"I5 {row['operation']} of {row['id']} stands on {found.bound_mpa:.2f} MPa"


def _wrong(found: Supported | None, operation: str, at_ms: int) -> Iterator[str]:
    if found is None:
        yield "no evidence"
        return
    if operation != "load":
        if not found.counted_5_h >= 23.95:
            yield f"{found.counted_5_h:.2f} counted hours at most"
        if not found.coldest_c >= 5.0:
            yield f"{found.coldest_c:.2f} degC in the last hour"
    if not found.bound_mpa >= LIMIT_MPA[operation] - 1e-6:
        yield f"{found.bound_mpa:.2f} MPa at most"
    if not at_ms - found.oldest_ms <= 3 * INTERVAL_MS:
        yield "a required sensor is silent"


def _kept(site: Site) -> Iterator[str]:
    """I1 and I3: what the broker was told is stored is there, once, the coldest of its values."""
    stored = {
        (r["id"], r["taken_ms"]): r["milli_c"]
        for r in read(site.readings, "SELECT s.id, r.* FROM reading r JOIN sensor s ON s.no = r.sensor")
    }
    refused = {bytes(r["payload"]) for r in read(site.book, "SELECT payload FROM refused")}
    values: dict[tuple[str, int], list[int]] = defaultdict(list)
    for _, packet in site.told.taken:
        if not packet.corrupt and packet.payload not in refused:
            for taken, milli_c in said(packet.payload):
                values[f"{packet.logger}.1", taken].append(milli_c)
    for key, several in values.items():
        if key not in stored:
            yield f"I1 acknowledged and gone: {key}"
        elif stored[key] > min(several):
            yield f"I3 {key} is stored as {stored[key]}, {min(several)} was sent"


def _copies(site: Site) -> Iterator[str]:
    """I7: a text arrives once, and once more for each recorded doubt."""
    kinds = {m["no"]: m["kind"] for m in read(site.book, "SELECT no, kind FROM message")}
    arrived = Counter((no, h.recipient, h.channel) for h in site.channels.ledger if h.arrived for no in h.numbers)
    doubts = Counter((b["message"], b["recipient"], b["channel"]) for b in _deliveries(site) if b["state"] == "unsure")
    for key, times in arrived.items():
        if kinds[key[0]] not in _INSISTENT and times > 1 + doubts[key]:
            yield f"I7 message {key[0]} reached {key[1]} {times} times, {doubts[key]} doubts"


def _deliveries(site: Site) -> list[dict[str, Any]]:
    return [json.loads(r[0]) for r in read(site.book, "SELECT body FROM log WHERE what = 'delivery' ORDER BY seq")]


def _gate_lines(site: Site) -> list[tuple[int, dict[str, Any]]]:
    lines = read(site.book, "SELECT seq, body FROM log WHERE what = 'gate' ORDER BY seq")
    return [(r["seq"], json.loads(r["body"])) for r in lines]


def _stale(site: Site) -> Iterator[str]:
    """I8: no release is handed over after its gate has moved on, or after its hour."""
    messages = {m["no"]: m for m in read(site.book, "SELECT * FROM message")}
    lines = _gate_lines(site)
    for heard in site.channels.ledger:
        for m in (messages[no] for no in heard.numbers):
            if m["kind"] not in _PERMITS or not heard.arrived:
                continue
            mine = [b for seq, b in lines if seq <= heard.log_seq and _about(b, m)]
            state = (mine[-1]["to"], mine[-1]["epoch"]) if mine else None
            wanted = ("released" if m["kind"] == "released" else "met", m["epoch"])
            if state != wanted or not heard.site_ms < m["valid_until_ms"]:
                yield f"I8 message {m['no']} handed to {heard.recipient} while its gate is {state}"


def _about(body: dict[str, Any], m: Any) -> bool:
    return (body["pour"], body["operation"]) == (m["pour"], m["subject"])


def _withdrawn(site: Site) -> Iterator[str]:
    """I9: who could hold a release hears its withdrawal, later than it, at the next attempt that a channel takes."""
    messages = read(site.book, "SELECT * FROM message ORDER BY no")
    for m in messages:
        if m["kind"] != "withdrawal":
            continue
        permits = {p["no"] for p in messages if p["kind"] in _PERMITS and p["epoch"] <= m["epoch"] and _same(p, m)}
        for who in {(h.recipient, h.channel) for h in site.channels.ledger if permits & set(h.numbers) and h.arrived}:
            yield from _told(site, m["no"], permits, who)


def _same(p: Any, m: Any) -> bool:
    return (p["pour"], p["subject"]) == (m["pour"], m["subject"])


def _told(site: Site, no: int, permits: set[int], who: tuple[str, int]) -> Iterator[str]:
    mine = [h for h in site.channels.ledger if (h.recipient, h.channel) == who]
    held = [h.true_ms for h in mine if h.arrived and permits & set(h.numbers)]
    after = max([site.told.written_ms[no], *held])
    answers = [h for h in mine if no in h.numbers and h.true_ms >= after]
    if not any(h.arrived for h in answers):
        waited = _could_have_gone(site, who[0], after)
        if waited > _SLOWEST_MS + 3 * MINUTE_MS and not answers:
            yield f"I9 {who[0]} holds a release, its withdrawal {no} was not tried for {waited / MINUTE_MS:.0f} min"
    elif (slow := _could_have_gone(site, who[0], after, _first(answers))) > _SLOWEST_MS + 3 * MINUTE_MS:
        tries = [h for h in answers if h.true_ms <= _first(answers)]
        if slow > (_SLOWEST_MS + 3 * MINUTE_MS) * len(tries):
            yield f"I9 withdrawal {no} reached {who[0]} after {slow / MINUTE_MS:.0f} min of an open channel"


def _first(answers: list[Heard]) -> int:
    return min(h.true_ms for h in answers if h.arrived)


def _could_have_gone(site: Site, who: str, from_ms: int, until_ms: int | None = None) -> int:
    """Return for how long the service ran and the channel was up. [ms]"""
    until = site.until_ms if until_ms is None else until_ms
    minutes = range(from_ms, until, MINUTE_MS)
    up = [t for t in minutes if any(a <= t < b for a, b in site.told.up) and not site.channels.is_down(who, t)]
    return len(up) * MINUTE_MS
