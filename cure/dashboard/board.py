"""The board: stored rows and an hour in, lines of a page out; what needs a person stands first. Pure."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from cure.dashboard.expected import cautious_ms, soonest_ms
from cure.dashboard.groups import GROUPS, group_of, of_one_group
from cure.dashboard.lacking import NOTHING, Lacks
from cure.dashboard.reader import Reader
from cure.dashboard.signs import KEEP_OFF, STOPPED, sign_of
from shared.models.base import LOAD, MINUTE_MS, STRIP, WALK, Ms, Operation, PourId
from shared.models.decisions import Doubt, Gate, GateState, Verdict
from shared.models.setup import SiteFile
from shared.models.weather import source_of
from shared.ports import BoardRow
from shared.shifts import day_of

S: Final = GateState
COLUMNS: Final = (STRIP, WALK, LOAD)
"""The three answers, in the order in which they come on site."""
LATE_MS: Final = 5 * MINUTE_MS
"""What was due so long ago is not being looked at."""
LATE_INTERVALS: Final = 2
OLD_INTERVALS: Final = 3
"""Evidence older than so many intervals of the loggers is called old."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One answer: shape, word, and the reason in a few words."""

    operation: Operation
    name: str
    shape: str
    fill: str
    word: str
    reason: str
    detail: str
    """More, where there is room for it."""


@dataclass(frozen=True, slots=True)
class Line:
    """One pour."""

    bay: str
    pour: str
    floor: str
    evidence: str
    old: bool
    """Whether the evidence is older than it should be."""
    cells: tuple[Cell, ...]
    others: tuple[Cell, ...]
    """Further operations of the site."""


@dataclass(frozen=True, slots=True)
class Group:
    """Lines that ask for the same of a person."""

    key: str
    title: str
    hint: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Board:
    """The whole board."""

    warnings: tuple[str, ...]
    """About the service itself: above all groups."""
    groups: tuple[Group, ...]
    floors: tuple[str, ...]
    """All there are, whichever is chosen."""
    notes: tuple[str, ...]
    lacks: Lacks = NOTHING
    """What bays lack before they can be poured."""


@dataclass(frozen=True, slots=True)
class Seen:
    """All of the hour that a pour's words hang on: with the same, and the same pour, they are the same."""

    day: date
    """On site."""
    stopped: bool
    """Whether nobody judges its evidence now."""
    old: bool
    """Whether the evidence is older than it should be."""
    soonest_ms: Ms | None
    """The first expected hour that lies ahead."""


Keep = Callable[[Hashable, tuple[object, ...], Callable[[], Line]], Line]
"""Of which pour and for whom, all that the line hangs on, what words it: the line."""


def _anew(_key: Hashable, _hangs_on: tuple[object, ...], make: Callable[[], Line]) -> Line:
    return make()


def board(
    rows: Sequence[BoardRow],
    doubts: Sequence[Doubt],
    site: SiteFile,
    now_ms: Ms,
    reader: Reader,
    floor: str = "",
    keep: Keep = _anew,
) -> Board:
    """Return the board as it stands.

    Args:
        rows: open pours.
        doubts: open doubts about the service itself.
        site: the set-up in force.
        now_ms: site time.
        reader: who reads.
        floor: only this one; "": all.
        keep: has the lines that were worded before.
    """
    shown = [row for row in rows if floor in {"", row.floor}]
    late = {row.pour.id for row in shown if is_late(row, site, now_ms)}
    doubted = bool(doubts)
    grouped: dict[str, list[BoardRow]] = {key: [] for key in GROUPS}
    for row in shown:
        grouped["look-first" if doubted or row.pour.id in late else group_of(row, site, now_ms)].append(row)
    groups = [
        Group(
            key,
            reader.say(f"group-{key}"),
            reader.say(f"group-{key}.hint"),
            tuple(
                _line(row, site, now_ms, reader, keep, doubted=doubted) for row in of_one_group(key, of_group, now_ms)
            ),
        )
        for key, of_group in grouped.items()
        if of_group
    ]
    floors = tuple(dict.fromkeys(b.floor for b in site.bay))
    warnings = _warnings(shown, late, doubts, now_ms, reader)
    return Board(warnings, tuple(groups), floors, board_notes(site, reader))


def is_late(row: BoardRow, site: SiteFile, now_ms: Ms) -> bool:
    """Return whether a pour that is due has not been looked at: its stored state may not be today's."""
    due_ms, looked_ms = row.state.next_due_ms, row.state.as_of_ms
    if due_ms > 0:
        return now_ms - due_ms > LATE_MS
    # 0: due at once, nobody knows since when; its last look tells.
    since = looked_ms if looked_ms > 0 else row.pour.start_ms
    return now_ms - since > LATE_INTERVALS * site.site.interval_s * 1000


def is_stopped(row: BoardRow, site: SiteFile, now_ms: Ms, *, doubted: bool) -> bool:
    """Return whether nobody judges a pour's evidence now: the service is in doubt, or the pour's rounds are late."""
    return doubted or is_late(row, site, now_ms)


def _warnings(
    rows: Sequence[BoardRow], late: set[PourId], doubts: Sequence[Doubt], now_ms: Ms, reader: Reader
) -> tuple[str, ...]:
    said = [reader.say("doubt", what=reader.say(f"doubt-{d.kind}"), reason=reader.known(d.reason)) for d in doubts]
    if late:
        oldest = min(row.state.as_of_ms or row.pour.start_ms for row in rows if row.pour.id in late)
        said.append(reader.say("estimates-stopped", hour=reader.hour(oldest, now_ms)))
    return tuple(said)


def board_notes(site: SiteFile, reader: Reader) -> tuple[str, ...]:
    """Return what whoever reads the board must know of the service itself."""
    notes = [reader.say("hours-foreseen")]
    if source_of(site.weather) is None:
        notes.append(reader.say("no-weather"))
    if site.site.clock_sync == "not-checked":
        notes.append(reader.say("clock-not-checked"))
    if site.heartbeat.url_file is None:
        notes.append(reader.say("silence-not-watched"))
    return tuple(notes)


def seen(row: BoardRow, site: SiteFile, now_ms: Ms, *, doubted: bool) -> Seen:
    """Return what the hour makes of a pour; `doubted`: the service itself is in doubt, and a round that suspends its
    gates may not have been.
    """
    estimate = row.state.estimate
    at_ms = None if estimate is None else estimate.evidence_ms
    old = at_ms is not None and now_ms - at_ms > OLD_INTERVALS * site.site.interval_s * 1000
    stopped = is_stopped(row, site, now_ms, doubted=doubted)
    return Seen(day_of(now_ms, site.site.zone), stopped, old, soonest_ms(row, now_ms))


def _line(row: BoardRow, site: SiteFile, now_ms: Ms, reader: Reader, keep: Keep, *, doubted: bool) -> Line:
    at = seen(row, site, now_ms, doubted=doubted)
    key = row.pour.id, reader.language, reader.first
    return keep(key, (row, site, at), lambda: _worded_line(row, site, at, now_ms, reader))


def _worded_line(row: BoardRow, site: SiteFile, at: Seen, now_ms: Ms, reader: Reader) -> Line:
    cells = {op: cell(row, op, site, now_ms, reader, stopped=at.stopped) for op in in_order(row)}
    estimate = row.state.estimate
    at_ms = None if estimate is None else estimate.evidence_ms
    hour = "" if at_ms is None else reader.hour(at_ms, now_ms)
    said = "evidence-old" if at.old else "to"
    return Line(
        bay=row.pour.bay,
        pour=row.pour.id,
        floor=row.floor,
        evidence=reader.say("no-reading") if at_ms is None else reader.say(said, hour=hour),
        old=at.old or at_ms is None,
        cells=tuple(c for op, c in cells.items() if op in COLUMNS),
        others=tuple(c for op, c in cells.items() if op not in COLUMNS),
    )


def in_order(row: BoardRow) -> list[Operation]:
    """Return the operations of a pour as pages show them: strip, walk, load, then the others by name."""
    return [op for op in COLUMNS if op in row.gates] + sorted(set(row.gates) - set(COLUMNS))


def cell(row: BoardRow, operation: Operation, site: SiteFile, now_ms: Ms, reader: Reader, *, stopped: bool) -> Cell:
    """Return one answer."""
    gate, sign = row.gates[operation], sign_of(row, operation, stopped=stopped)
    verdict = next((v for v in row.state.verdicts if v.operation == operation), None)
    reason, detail = "", ""
    if sign is KEEP_OFF:
        reason = reader.say("stripping-near")
    elif sign is STOPPED:
        reason = reader.say("stopped-reason")
    else:
        reason = _reason(row, gate, site, now_ms, reader)
        detail = _detail(gate, verdict, reader)
    word = _word(gate, sign.word, operation, site, reader)
    return Cell(operation, reader.operation(operation), sign.shape, sign.fill, word, reason, detail)


def _word(gate: Gate, key: str, operation: Operation, site: SiteFile, reader: Reader) -> str:
    if gate.state is S.MET and key == "sign-met" and site.plan.sign_offs == 0:
        return reader.say("sign-met.unsigned")
    return reader.worded(key, operation)


def _reason(row: BoardRow, gate: Gate, site: SiteFile, now_ms: Ms, reader: Reader) -> str:
    state = gate.state
    if state is S.HOLD:
        return "; ".join(reader.known(h.reason) for h in row.holds[:1])
    if state in {S.WITHDRAWN, S.SUSPENDED}:
        return reader.known(gate.reason)
    if state is S.MET and gate.signers and site.plan.sign_offs > 0:
        return reader.say("signed-so-far", count=len(gate.signers))
    if state in {S.RELEASED, S.UNDER_WAY, S.DONE, S.DONE_WITHOUT_RELEASE}:
        return reader.hour(gate.changed_ms, now_ms)
    # What nobody judges now bears another sign, and another reason.
    cautious = cautious_ms(row, gate.operation, now_ms, stopped=False) if state is S.CURING else None
    return "" if cautious is None else reader.say("expected", hour=reader.hour(cautious, now_ms))


def _detail(gate: Gate, verdict: Verdict | None, reader: Reader) -> str:
    if gate.state is S.NOT_SET_UP:
        missing = () if verdict is None else verdict.missing
        return "; ".join(map(reader.known, missing)) or reader.say("not-looked-at")
    if gate.state is S.CURING and verdict is not None:
        failed = verdict.failed()
        return "; ".join(map(reader.finding, failed)) or reader.say("being-confirmed")
    return ""
