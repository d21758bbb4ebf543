"""Covers and heating, as people enter them. An hour said afterwards may only take credit away, never give any."""

from __future__ import annotations

from typing import Any

from cure.work import Work
from shared.errors import ActRefusedError
from shared.models import acts
from shared.models.base import Ms


def cover(work: Work, act: acts.Cover) -> None:
    """Take a cover that was laid on or taken off.

    Hours without readings are credited as covered from the press on, not from the hour that is said; a cover that came
    off earlier counts no longer than that. The forecast goes by what is said.

    Raises:
        ActRefusedError: the hour cannot be.
    """
    memory, said_ms = work.memory, _said_ms(work, act, "covers_said")
    # Without any of its own, what was entered so far was entered at its hour.
    credited, said = memory.get("covers", []), memory.get("covers_said", memory.get("covers", []))
    memory["covered"] = act.on
    memory["covers"] = _stepped(credited, act.on, max(said_ms, act.at_ms) if act.on else said_ms)
    memory["covers_said"] = _stepped(said, act.on, said_ms)


def heat(work: Work, act: acts.Heat) -> None:
    """Take heating of the space below that began or ended.

    Raises:
        ActRefusedError: the hour cannot be.
    """
    said_ms = _said_ms(work, act, "heated")
    spans = [list(span) for span in work.memory.get("heated", [])]
    if spans and spans[-1][1] is None:
        spans[-1][1] = max(said_ms, spans[-1][0])
    if act.on:
        spans.append([said_ms, None, act.below_c])
    work.memory["heated"] = spans


def _said_ms(work: Work, act: acts.Cover | acts.Heat, kept: str) -> Ms:
    said_ms = act.at_ms if act.happened is None else acts.ms(act.happened)
    if not work.case.pour.start_ms <= said_ms <= max(work.now_ms, act.at_ms):
        raise ActRefusedError("it happened after the start of the pour and not in the future")
    last_ms = max(
        (edge for span in work.memory.get(kept, []) for edge in span[:2] if edge is not None), default=said_ms
    )
    if said_ms < last_ms:
        raise ActRefusedError("something later is entered already: look at what stands")
    return said_ms


def _stepped(spans: list[Any], on: bool, at_ms: Ms) -> list[list[Ms | None]]:
    """Return the stretches with one more step: of what is on already, or off, nothing changes."""
    stepped = [list(span) for span in spans]
    still_on = bool(stepped) and stepped[-1][1] is None
    if on and not still_on:
        stepped.append([at_ms, None])
    elif still_on and not on:
        stepped[-1][1] = max(at_ms, stepped[-1][0])
    return stepped
