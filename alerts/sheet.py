"""A text before it is laid out: the same lines as plain text and as HTML."""

from __future__ import annotations

from dataclasses import dataclass

from alerts.chart import Chart
from alerts.phrase import Block


@dataclass(frozen=True, slots=True)
class Sheet:
    """What subject, body and HTML show, in their order."""

    subject: str
    headline: str
    numbers: tuple[tuple[str, str], ...]
    """(label, value): which message it is."""
    place: tuple[tuple[str, str], ...]
    """(label, value): where and when."""
    lines: tuple[str, ...]
    blocks: tuple[Block, ...]
    caution: str
    charts: tuple[Chart, ...] = ()
    """In the HTML only."""


def body(sheet: Sheet, item: str) -> str:
    """Return the plain text; `item` says how the language joins a label and its value: "{}: {}"."""
    blocks = [line for block in sheet.blocks for line in (block.heading, *(f"- {said}" for said in block.lines))]
    lines = [
        sheet.headline,
        *(item.format(*row) for row in sheet.numbers),
        "",
        *(item.format(*row) for row in sheet.place),
        "",
        *sheet.lines,
        *blocks,
        "",
        sheet.caution,
    ]
    return "\n".join(lines) + "\n"
