"""The shift handover: what the next shift must know, on one sheet, by the stored rows alone. Pure.

It lets nothing go ahead. What nobody judges now is not called released, and what is kept off is said first.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from cure import lists
from cure.dashboard.bay import hold_lines, limits
from cure.dashboard.board import in_order, is_stopped
from cure.dashboard.expected import expected_ms
from cure.dashboard.reader import Reader
from cure.dashboard.signs import KEEP_OFF, SIGNS, STOPPED, Sign, sign_of
from cure.dashboard.told import Texts
from cure.form_sets import OFF, Place, places
from cure.gate import held
from cure.loggers import LoggerRow, Standing, is_low, is_weak
from shared.models.acts import Act
from shared.models.base import DAY_MS, STRIP, Json, Ms, Operation
from shared.models.decisions import GateState
from shared.models.messages import Delivery
from shared.ports import BoardRow

S: Final = GateState
SOON_MS: Final = DAY_MS
"""What is expected later is the shift's after next."""


@dataclass(frozen=True, slots=True)
class Known:
    """What the stores hold."""

    shown: lists.Shown
    loggers: Sequence[LoggerRow]
    moves: Sequence[Act]
    """Of form sets, in order."""
    texts: Texts
    """Words a message in a language."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing to know."""

    what: str
    """By which it is known again, whatever the language and the hour."""
    of: str
    """Bay, sensor, form set or message; "": the service itself."""
    said: str
    shape: str = ""
    """Of a gate, its sign."""
    href: str = ""
    """Where more is said of it."""

    def to_json(self) -> dict[str, Json]:
        """Return it as a JSON object."""
        return {"what": self.what, "of": self.of, "said": self.said}


@dataclass(frozen=True, slots=True)
class Sheet:
    """The sheet: what to know by kind, each kind there, if only as empty."""

    groups: Mapping[str, tuple[Entry, ...]]

    @property
    def code(self) -> str:
        """The code of what stands on it: another one, when something came, went or changed its sign."""
        known = "\n".join(f"{key}: {entry.what}" for key, of in self.groups.items() for entry in of)
        return hashlib.sha256(known.encode()).hexdigest()[:12]

    def to_json(self) -> dict[str, Json]:
        """Return it as a JSON object."""
        return {"code": self.code, **{key: [entry.to_json() for entry in of] for key, of in self.groups.items()}}


@dataclass(frozen=True, slots=True)
class _Facts:
    known: Known
    now: Ms
    reader: Reader

    @property
    def rows(self) -> Sequence[BoardRow]:
        return self.known.shown.rows

    def stopped(self, row: BoardRow) -> bool:
        return is_stopped(row, self.known.shown.site, self.now, doubted=bool(self.known.shown.doubts))

    def signs(self) -> Iterator[tuple[BoardRow, Operation, Sign]]:
        for row in self.rows:
            stopped = self.stopped(row)
            yield from ((row, operation, sign_of(row, operation, stopped=stopped)) for operation in in_order(row))

    def gates(self, *states: GateState) -> Iterator[tuple[BoardRow, Operation, Sign]]:
        """Yield the gates that show one of the states as their sign: not those kept off, or of a pour nobody judges."""
        signs = [SIGNS[state] for state in states]
        yield from (of for of in self.signs() if of[2] in signs)

    def entry(self, row: BoardRow, operation: Operation, sign: Sign, *more: str) -> Entry:
        word = self.reader.worded(sign.word, operation).replace("\u00ad", "")
        said = "; ".join(filter(None, (f"{self.reader.operation(operation)}: {word}", *more)))
        what = f"{row.pour.id} {operation} {sign.word} {row.gates[operation].epoch}"
        return Entry(what, row.pour.bay, said, sign.shape, f"/bay/{row.pour.bay}")

    def hour(self, at_ms: Ms) -> str:
        return self.reader.hour(at_ms, self.now)


def sheet(known: Known, now: Ms, reader: Reader) -> Sheet:
    """Return the sheet.

    Args:
        known: what the stores hold.
        now: site time.
        reader: whose words it is in.
    """
    facts = _Facts(known, now, reader)
    return Sheet({key: tuple(make(facts)) for key, make in GROUPS.items()})


def _look_first(facts: _Facts) -> Iterator[Entry]:
    say, known = facts.reader.say, facts.reader.known
    for doubt in facts.known.shown.doubts:
        said = say("doubt", what=say(f"doubt-{doubt.kind}"), reason=known(doubt.reason))
        yield Entry(f"doubt {doubt.kind}", "", said, STOPPED.shape, "/")
    for row, operation, sign in facts.signs():
        if sign is KEEP_OFF:
            yield facts.entry(row, operation, sign, say("stripping-near"))
        elif sign is STOPPED:
            yield facts.entry(row, operation, sign, say("stopped-here"))
        elif sign in (SIGNS[S.WITHDRAWN], SIGNS[S.SUSPENDED], SIGNS[S.DONE_WITHOUT_RELEASE]):
            gate = row.gates[operation]
            yield facts.entry(row, operation, sign, known(gate.reason), facts.hour(gate.changed_ms))


def _holds(facts: _Facts) -> Iterator[Entry]:
    for row in facts.rows:
        for hold in row.holds:
            said, shape, href = ". ".join(hold_lines(hold, facts.reader)), SIGNS[S.HOLD].shape, f"/bay/{row.pour.bay}"
            yield Entry(f"{row.pour.id} hold {hold.kind}", row.pour.bay, said, shape, href)


def _released(facts: _Facts) -> Iterator[Entry]:
    told = {(r["pour"], r["operation"]): r for r in lists.released(facts.known.shown)}
    for row, operation, sign in facts.gates(S.RELEASED, S.UNDER_WAY):
        since_ms = told[row.pour.id, operation]["since_ms"]
        since = "" if since_ms is None else facts.hour(since_ms)
        bay = next((b for b in facts.known.shown.site.bay if b.bay_id == row.pour.bay), None)
        # Of a bay that the site file does not have any more the general words.
        more = (facts.reader.worded("limit", operation),) if bay is None else limits(bay, operation, facts.reader)
        yield facts.entry(row, operation, sign, since, *(said.rstrip(".") for said in more))


def _sign_offs(facts: _Facts) -> Iterator[Entry]:
    for row, operation, sign in facts.gates(S.MET):
        signers = row.gates[operation].signers
        more = facts.reader.say("signed-so-far", count=len(signers)) if signers else ""
        yield facts.entry(row, operation, sign, more)


def _expected(facts: _Facts) -> Iterator[Entry]:
    found = []
    for row, operation, sign in facts.signs():
        at_ms = None if sign is KEEP_OFF else expected_ms(row, operation, facts.now, stopped=sign is STOPPED)
        if at_ms is not None and at_ms <= facts.now + SOON_MS:
            said = f"{facts.reader.operation(operation)}: {facts.hour(at_ms)}"
            entry = Entry(f"{row.pour.id} {operation}", row.pour.bay, said, "", f"/bay/{row.pour.bay}")
            found.append((at_ms, entry))
    yield from (entry for _, entry in sorted(found, key=lambda of: of[0]))


def _messages(facts: _Facts) -> Iterator[Entry]:
    reader, by_message = facts.reader, dict[int, list[Delivery]]()
    for delivery in facts.known.shown.deliveries:
        by_message.setdefault(delivery.message, []).append(delivery)
    for message in facts.known.shown.messages:
        rows = by_message.get(message.no, [])
        if not lists.undelivered(message, rows, facts.now):
            continue
        failed = [d for d in rows if d.state in lists.NEEDS_A_PERSON]
        said = [f"{d.recipient}: {reader.say(f'delivery-{d.state.value}')}" for d in failed]
        if message.kind in lists.CONFIRMED_BY_PERSONS:
            said.insert(0, reader.say("shift-unconfirmed"))
        subject = facts.known.texts(message, reader.language).subject
        of = reader.say("message-title", no=str(message.no))
        line = f"{subject}, {facts.hour(message.at_ms)}. {'; '.join(said)}"
        yield Entry(f"message {message.no}", of, line, "octagon", f"/message/{message.no}")


def _sensors(facts: _Facts) -> Iterator[Entry]:
    reader = facts.reader
    for row in facts.known.loggers:
        if row.standing is Standing.ALIVE and row.to_do == "nothing":
            continue
        key = re.sub(r"[^a-z]+", "-", row.standing.lower())
        where = "" if row.placement is None else f"{reader.say('bay')} {row.placement.bay}"
        heard = "" if row.heard_ms is None else reader.say("shift-heard", hour=facts.hour(row.heard_ms))
        low = reader.say("battery", percent=f"{row.battery_percent:.0f}") if is_low(row.battery_percent) else ""
        weak = reader.say("signal", db=f"{row.signal_db:.0f}") if is_weak(row.signal_db) else ""
        said = ", ".join(filter(None, (reader.say(f"standing-{key}"), where, heard, low, weak)))
        yield Entry(f"sensor {row.name} {row.standing}", row.name, said, "", "/loggers")


def _covers(facts: _Facts) -> Iterator[Entry]:
    say = facts.reader.say
    for row in facts.rows:
        memory, bay = row.state.memory, row.pour.bay
        covers, heated = memory.get("covers_said", memory.get("covers", [])), memory.get("heated", [])
        if memory.get("covered") is True:
            since = facts.hour(covers[-1][0]) if covers else "?"
            yield Entry(f"{row.pour.id} cover", bay, say("shift-cover", since=since), "", f"/bay/{bay}")
        if heated and heated[-1][1] is None:
            since_ms, _, below_c = heated[-1]
            below = facts.reader.number(below_c, "degC")
            said = say("shift-heat", since=facts.hour(since_ms), below=below)
            yield Entry(f"{row.pour.id} heat", bay, said, "", f"/bay/{bay}")


def _forms(facts: _Facts) -> Iterator[Entry]:
    say, sets = facts.reader.say, places(facts.known.moves)
    of_bay = {place.bay: place for place in sets.values() if place.bay is not None}
    for row in facts.rows:
        strip = row.gates.get(STRIP)
        if strip is None or held(strip) in OFF:
            continue
        place, bay = of_bay.pop(row.pour.bay, None), row.pour.bay
        said = say("shift-forms-on", since=facts.hour(row.pour.start_ms)) + _waits(place, facts.reader)
        by = "" if place is None else f"{place.form_set} {place.waits}"
        yield Entry(f"{row.pour.id} forms {by}", bay, said, "", f"/bay/{bay}")
    for place in (*of_bay.values(), *(p for p in sets.values() if p.bay is None)):
        where = say("shift-set-aside") if place.bay is None else f"{say('bay')} {place.bay}"
        said = say("shift-set-lies", where=where, since=facts.hour(place.since_ms))
        waits = "" if place.waits is None else f"; {say('shift-waits', bay=place.waits)}"
        what = f"set {place.form_set} {place.bay} {place.waits}"
        yield Entry(what, say("shift-set", name=place.form_set), f"{said}{waits}")


def _waits(place: Place | None, reader: Reader) -> str:
    if place is None:
        return ""
    waits = "" if place.waits is None else f"; {reader.say('shift-waits', bay=place.waits)}"
    return f"; {reader.say('shift-set', name=place.form_set)}{waits}"


GROUPS: Final[Mapping[str, Callable[[_Facts], Iterable[Entry]]]] = {
    "look-first": _look_first,
    "holds": _holds,
    "released": _released,
    "sign-off": _sign_offs,
    "expected": _expected,
    "messages": _messages,
    "sensors": _sensors,
    "covers": _covers,
    "forms": _forms,
}
"""The order in which people must know of it."""
