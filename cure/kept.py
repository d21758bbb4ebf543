"""Forecasts as they are kept on file, and how each is scored when what it foretold comes. Pure.

Scored is the whole hour: met within the horizon or not, none is left out because it did not come (which would flatter).
One whose pour was closed before is counted, and not scored.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Final

import numpy as np

from cure.forecast import Forecast
from cure.scoring import crps_levels
from shared.models.base import HOUR_MS, MINUTE_MS, MixId, Ms, Operation
from shared.models.decisions import GateState, LogEntry
from shared.models.forecasts import KeptForecast, Outcome, Score
from shared.ports import BoardRow

LEVELS: Final = 39
CHANCES: Final = tuple((i + 0.5) / LEVELS for i in range(LEVELS))
"""At which the hours of a forecast are kept: 300 members say hardly more, and take eight times the room."""
STEADY_MS: Final = 30 * MINUTE_MS
"""A gate is met when the evidence has met its requirement for so long; what is foretold is when it first does."""


def kept_of(forecast: Forecast, mix: MixId, widened: float) -> list[KeptForecast]:
    """Return what is kept of a forecast, one for each operation that is not met already.

    Args:
        forecast: of one pour.
        mix: of its concrete.
        widened: by how much its spread was multiplied.
    """
    return list(_kept(forecast, mix, widened))


def _kept(forecast: Forecast, mix: MixId, widened: float) -> Iterator[KeptForecast]:
    for operation, expected in forecast.expected.items():
        if not float(expected.members_ms[-1]) > forecast.through_ms:
            continue
        levels = [expected.at(chance) for chance in CHANCES]
        made_ms = forecast.issued_ms
        yield KeptForecast(
            pour=forecast.pour,
            operation=operation,
            mix=mix,
            made_ms=made_ms,
            through_ms=forecast.through_ms,
            horizon_ms=forecast.horizon_ms,
            low_ms=expected.at(0.1),
            middle_ms=expected.at(0.5),
            high_ms=expected.at(0.9),
            widened=widened,
            levels_min=tuple(None if at is None else round((at - made_ms) / MINUTE_MS) for at in levels),
        )


def came_ms(row: BoardRow | None, operation: Operation, lines: Mapping[Operation, LogEntry]) -> Ms | None:
    """Return when the evidence first met an operation's requirement; None: not yet, or nobody can say.

    Args:
        row: the pour as it stands; None: it is closed.
        operation: one of its plan.
        lines: the first line of the log that says "met", by operation; it comes half an hour later, and after a hold.
    """
    found = []
    if row is not None and row.state.estimate is not None and row.state.estimate.evidence_ms is not None:
        verdict = next((v for v in row.state.verdicts if v.operation == operation), None)
        if verdict is not None and verdict.met:
            found.append(row.state.estimate.evidence_ms)
    if (line := lines.get(operation)) is not None:
        evidence_ms = line.body.get("evidence_ms")
        found.append((line.at_ms if evidence_ms is None else evidence_ms) - STEADY_MS)
    return min(found, default=None)


def first_met(lines: Iterator[LogEntry]) -> dict[tuple[str, Operation], LogEntry]:
    """Return the first line of the log in which each gate was met, by pour and operation."""
    found: dict[tuple[str, Operation], LogEntry] = {}
    for line in lines:
        if line.what == "gate" and line.body["to"] == GateState.MET:
            found.setdefault((line.body["pour"], Operation(line.body["operation"])), line)
    return found


def score_of(no: int, kept: KeptForecast, found_ms: Ms | None, now_ms: Ms, *, closed: bool) -> Score | None:
    """Return the score of a forecast; None: it is too early.

    Args:
        no: its number.
        kept: the forecast.
        found_ms: when it was met; None: not so far.
        now_ms: the present.
        closed: whether its pour is; then nothing will come any more.
    """
    if found_ms is not None and found_ms <= kept.horizon_ms:
        # Of one that was made when the evidence was there already there is nothing to score.
        crps_h = _crps_h(kept, found_ms) if found_ms > kept.made_ms else None
        return Score(no, now_ms, Outcome.CAME, found_ms, crps_h)
    if found_ms is not None or now_ms >= kept.horizon_ms:
        return Score(no, now_ms, Outcome.NOT_WITHIN, None, _crps_h(kept, math.inf))
    return Score(no, now_ms, Outcome.CLOSED, None, None) if closed else None


def _crps_h(kept: KeptForecast, found_ms: float) -> float:
    hours = (np.array(kept.level_ms()) - kept.made_ms) / HOUR_MS
    horizon_h = (kept.horizon_ms - kept.made_ms) / HOUR_MS
    return crps_levels(np.minimum(hours, horizon_h), min((found_ms - kept.made_ms) / HOUR_MS, horizon_h))
