"""What was refused is screened again, once a person has mended what was wrong: a placement, a map, a declared unit.

What passes now is stored as a late reading that came when it first came: a time that lay in the future then does not
ripen by this way either. Each refusal that is answered says so; a second time finds nothing left to do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ingest.intake import Intake
from ingest.sheet import Sheet
from shared.models.base import Ms, SensorId
from shared.models.readings import Reading, Reason, Refusal, Refused
from shared.ports import RefusedBook

AT_ONCE: Final = 200
FILE: Final = "file "
"""How the topic begins of what came in a file: one row of each sensor and reason is kept of that, so it is imported
again instead."""


@dataclass(frozen=True, slots=True)
class Again:
    """What became of one refusal."""

    refusal: Refusal
    stored: tuple[Reading, ...] = ()
    outcome: str = ""
    """Empty: it stands, for the reason for which it was refused."""


def screen_again(intake: Intake, book: RefusedBook, now_ms: Ms, sensor: SensorId | None = None) -> tuple[Again, ...]:
    """Screen what stands refused again, store what passes, and write down what became of each.

    Args:
        intake: with the topics and their maps as they are now.
        book: where the refusals are.
        now_ms: site time.
        sensor: whose refusals; None: all.

    Raises:
        StoreError: a store failed; what was done so far is found as done the next time.
    """
    standing = [r for r in book.standing(sensor) if _can(r.refused)]
    done: list[Again] = []
    for first in range(0, len(standing), AT_ONCE):
        some = standing[first : first + AT_ONCE]
        sheets = intake.look_again([r.refused for r in some])
        answers = [_answer(refusal, sheet) for refusal, sheet in zip(some, sheets, strict=True)]
        decided = [(a, sheet) for a, sheet in zip(answers, sheets, strict=True) if a.outcome]
        # Stored before it is decided: a crash between them does the same once more.
        intake.store_again([sheet for _, sheet in decided])
        book.decide({a.refusal.no: a.outcome for a, _ in decided}, now_ms)
        done += answers
    return tuple(done)


def _can(refused: Refused) -> bool:
    """Whether it is kept whole. What lay ahead does not ripen, whatever is mended."""
    whole = refused.payload and refused.reason is not Reason.TOO_BIG
    return bool(whole) and refused.reason is not Reason.CLOCK_FUTURE and not refused.topic.startswith(FILE)


def _answer(refusal: Refusal, sheet: Sheet) -> Again:
    was = refusal.refused
    left = [r for r in sheet.refused if was.sensor in {None, r.sensor} or r.sensor is None]
    if any((r.reason, r.sensor) == (was.reason, was.sensor) for r in left):
        return Again(refusal)
    rows = tuple(row for row in sheet.rows if was.sensor in {None, row.sensor})
    said = [f"stored: {len(rows)} {'reading' if len(rows) == 1 else 'readings'}"] if rows else []
    said += [f"refused again ({r.reason}): {r.detail}" for r in left]
    if not said and sheet.heard:
        said = ["read: it holds no temperature"]
    return Again(refusal, rows, "; ".join(said))


def standing_words(again: Sequence[Again]) -> str:
    """Return how many were answered and how many stand, as a sentence."""
    answered = sum(bool(a.outcome) for a in again)
    readings = len({(row.sensor, row.taken_ms) for a in again for row in a.stored})
    return f"{readings} readings pass now; {answered} refusals are answered, {len(again) - answered} stand"
