"""Form sets: where each is, since when, and which bay's pour waits for it. They judge nothing.

A set that leaves a bay says that its forms are off: so it leaves no pour whose strip is not done.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from cure.gate import held
from cure.press import HANDS
from cure.roles import check_role
from shared.act_checks import check_bay, check_hour
from shared.errors import ActRefusedError, StoreError
from shared.models import acts
from shared.models.base import STRIP, Ms
from shared.models.decisions import GateState, LogEntry
from shared.models.setup import SiteFile
from shared.ports import BoardBook, BoardRow, CureBook

KIND: Final = "form_set"
OFF: Final = frozenset({GateState.DONE, GateState.DONE_WITHOUT_RELEASE})
"""States of a strip in which the forms are off."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where one set is."""

    form_set: str
    bay: str | None
    """None: it lies aside, ready."""
    waits: str | None
    """The bay whose pour waits for it next."""
    since_ms: Ms
    who: str


def places(moves: Iterable[acts.Act]) -> dict[str, Place]:
    """Return where each set is by every move, in the order in which they were handed in; by name."""
    found: dict[str, Place] = {}
    for move in moves:
        if not isinstance(move, acts.MoveSet):
            continue
        before = found.pop(move.form_set, None)
        if move.gone:
            continue
        stays = before is not None and before.bay == move.bay
        since_ms = before.since_ms if before is not None and stays else _happened_ms(move)
        found[move.form_set] = Place(move.form_set, move.bay, move.waits, since_ms, move.who)
    return dict(sorted(found.items()))


def move_set(site: SiteFile, book: CureBook, board: BoardBook, now: Ms, act: acts.MoveSet) -> None:
    """Carry out a move.

    Raises:
        ActRefusedError: it cannot be accepted, and why.
    """
    check_hour(act, now)
    check_role(site, act, HANDS)
    for bay in filter(None, (act.bay, act.waits)):
        check_bay(site, bay)
    here = places(board.acts_of(KIND)).get(act.form_set)
    _check(act, here, now)
    if here is not None and here.bay is not None and (act.gone or act.bay != here.bay):
        _check_off(here, board.board())
    try:
        book.act_on_site(act, LogEntry(now, act.who, "act", acts.act_to(act)))
    except StoreError as error:
        raise ActRefusedError(str(error)) from error


def _check(act: acts.MoveSet, here: Place | None, now: Ms) -> None:
    at_ms = _happened_ms(act)
    if act.gone and (here is None or act.bay is not None or act.waits is not None):
        raise ActRefusedError("a set that is gone is one that was here, is in no bay, and nothing waits for it")
    if act.bay is not None and act.bay == act.waits:
        raise ActRefusedError(f"bay {act.bay} has the set already: another one waits for it")
    if at_ms > max(now, act.at_ms) or (here is not None and at_ms < here.since_ms):
        raise ActRefusedError("a set moves after it came to where it is, and not in the future")


def _check_off(here: Place, rows: Iterable[BoardRow]) -> None:
    for row in rows:
        strip = row.gates.get(STRIP)
        if row.pour.bay == here.bay and strip is not None and held(strip) not in OFF:
            raise ActRefusedError(
                f"strip of {row.pour.id} is {held(strip)}: record it as done, or the forms as found off, "
                f"before set {here.form_set} leaves bay {here.bay}"
            )


def _happened_ms(act: acts.MoveSet) -> Ms:
    return act.at_ms if act.happened is None else acts.ms(act.happened)
