"""What a plan rests on beside what is asked: what the site book says of calibrations, requirements and form sets."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from cure.dashboard.board import is_stopped
from cure.dashboard.expected import cautious_ms
from cure.forecast import Weather
from cure.form_sets import KIND, places
from cure.plan_answer import Ground
from cure.plan_sets import Standing
from cure.planned import MEMBERS
from shared.models.base import STRIP, Ms
from shared.models.calibration import Calibration
from shared.models.decisions import GateState
from shared.models.setup import Setup, SiteFile
from shared.ports import BoardBook, BoardRow

MET = frozenset({GateState.MET, GateState.RELEASED, GateState.UNDER_WAY})
"""States of a strip that waits for people alone."""


def ground_of(
    board: BoardBook,
    site: SiteFile,
    calibrations: Mapping[str, Calibration],
    weather: Callable[[tuple[Ms, Ms]], Weather],
    now_ms: Ms,
    members: int = MEMBERS,
) -> Ground:
    """Return it, read when it is wanted.

    Args:
        board: the site book.
        site: the set-up in force.
        calibrations: of the site file, by mix; one that was put in force on the book counts in its place.
        weather: from an hour to another. Raises `PlanError` where there is none.
        now_ms: site time.
        members: of each ensemble.
    """
    in_force = {str(row.mix.id): row.calibration for row in board.mixes() if row.in_force}
    setup = Setup(site, {**calibrations, **in_force}, "")
    return Ground(setup, board.edits, weather, lambda: standing_of(board, site, now_ms), now_ms, members)


def standing_of(board: BoardBook, site: SiteFile, now_ms: Ms) -> Standing:
    """Return where the sets are, and when what they carry is met or cautiously expected to be. Raises `StoreError`."""
    doubted = bool(board.doubts())

    def ready_ms(row: BoardRow) -> Ms | None:
        stopped = is_stopped(row, site, now_ms, doubted=doubted)
        if row.gates[STRIP].state in MET:
            return None if stopped else now_ms
        return cautious_ms(row, STRIP, now_ms, stopped=stopped)

    return Standing(places(board.acts_of(KIND)), board.board(), ready_ms)
