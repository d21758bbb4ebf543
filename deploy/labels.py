"""Labels for bays and sensors: a sheet of 24 with codes that a phone reads, as SVG or HTML for any printer.

The codes have error level H: a third of one may be mud.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from itertools import groupby
from typing import Final

import segno

from cure.loggers import logger_of
from shared.models.decisions import Placement
from shared.models.setup import BaySettings

PAPERS: Final[dict[str, tuple[float, float]]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height. [mm]"""
COLUMNS, ROWS = 3, 8
A_SHEET: Final = COLUMNS * ROWS
SIDE_MM, TOP_MM = 7.0, 12.5
"""Of the sheet that stays empty: printers do not reach its rim."""
INSIDE_MM: Final = 2.0
QUIET: Final = 4
"""Light modules round a code, as its standard asks (ISO/IEC 18004, from memory)."""
WIDEST_LETTER: Final = 0.68
"""Mean width of a letter by its height, in the bold of a wide plain face: nothing is cut off."""
LETTERS_MM: Final = 3.8
SMALLER_MM: Final = 3.0
"""Height of letters; the smaller where there are four lines."""
ID_ONLY: Final = "no address: the code holds the name"


@dataclass(frozen=True, slots=True)
class Label:
    """One label."""

    head: str
    lines: tuple[str, ...]
    code: str
    """What the code holds."""
    below: tuple[str, ...]
    """The same for people, in small letters."""


def labels(bays: Sequence[BaySettings], placements: Sequence[Placement], address: str | None) -> list[Label]:
    """Return the label of each bay, followed by those of its sensors.

    Args:
        bays: of the site file.
        placements: ended ones are left out.
        address: of the pages, "http://site.lan:8080"; None: the codes hold names.
    """
    found = []
    for bay in bays:
        found.append(Label(f"BAY {bay.id}", (f"floor {bay.floor}", "look, or STOP"), *_code(address, "bay", bay.id)))
        lies = sorted((p for p in placements if p.bay == bay.id and p.to_ms is None), key=lambda p: p.sensor)
        found += [_of_sensor(p, address) for p in lies]
    return found


def _of_sensor(p: Placement, address: str | None) -> Label:
    deep = () if p.depth_mm is None else (f"{p.depth_mm} mm deep",)
    there = () if p.position is None else (p.position,)
    code = _code(address, "logger", logger_of(p.sensor)) if address is not None else _code(None, "", p.sensor)
    return Label(p.sensor, (f"bay {p.bay}", p.zone.value, *deep, *there), *code)


def _code(address: str | None, page: str, name: str) -> tuple[str, tuple[str, ...]]:
    if address is None:
        return name, (ID_ONLY,)
    return f"{address}/{page}/{name}", (address, f"/{page}/{name}")


def sheets(every: Sequence[Label], paper: str) -> list[str]:
    """Return each sheet as an SVG picture of the paper's size, 24 labels on each."""
    return [
        _sheet([label for _, label in some], PAPERS[paper])
        for _, some in groupby(enumerate(every), key=lambda numbered: numbered[0] // A_SHEET)
    ]


def page(pictures: Sequence[str], paper: str, title: str) -> str:
    """Return sheets as one HTML page that prints one a sheet."""
    size = "A4" if paper == "A4" else "letter"
    style = (
        f"@page{{size:{size};margin:0}}body{{margin:0}}"
        "svg{display:block;break-after:page}svg:last-child{break-after:auto}"
    )
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        f"<style>{style}</style></head><body>{''.join(pictures)}</body></html>\n"
    )


def _sheet(some: Sequence[Label], paper_mm: tuple[float, float]) -> str:
    wide, high = paper_mm
    cell = (wide - 2 * SIDE_MM) / COLUMNS, (high - 2 * TOP_MM) / ROWS
    drawn = []
    for n, label in enumerate(some):
        x, y = SIDE_MM + n % COLUMNS * cell[0], TOP_MM + n // COLUMNS * cell[1]
        drawn.append(f'<g transform="translate({x:.2f} {y:.2f})">{_drawn(label, *cell)}</g>')
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{high}mm" viewBox="0 0 {wide} {high}" '
        f'font-family="Arial, Helvetica, sans-serif">{"".join(drawn)}</svg>\n'
    )


def _drawn(label: Label, wide: float, high: float) -> str:
    side = high - 2 * INSIDE_MM
    left, room = side + 2 * INSIDE_MM, wide - side - 3 * INSIDE_MM
    parts = [f'<rect width="{wide:.2f}" height="{high:.2f}" fill="none" stroke="#999" stroke-width="0.1"/>']
    parts.append(_modules(label.code, side))
    y, foot = INSIDE_MM, high - INSIDE_MM
    letters = LETTERS_MM if len(label.lines) < 4 else SMALLER_MM
    for n, (text, most) in enumerate([(label.head, 6.0), *((line, letters) for line in label.lines)]):
        size = _size(text, most, room)
        y += size * 1.22
        weight = "bold" if n == 0 else "normal"
        parts.append(_text(text, left, y, size, weight))
    for text in reversed(label.below):
        size = _size(text, 2.2, room)
        parts.append(_text(text, left, foot, size, "normal"))
        foot -= size * 1.25
    return "".join(parts)


def _size(text: str, most_mm: float, room_mm: float) -> float:
    """Return the height of letters with which a text stays in its room."""
    return min(most_mm, room_mm / (WIDEST_LETTER * len(text)))


def _text(text: str, x: float, y: float, size: float, weight: str) -> str:
    return f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.2f}" font-weight="{weight}">{escape(text)}</text>'


@lru_cache(maxsize=1000)
def _modules(code: str, side_mm: float) -> str:
    """Return a code as one path, its quiet zone inside the side."""
    matrix = segno.make_qr(code, error="h").matrix
    scale = side_mm / (len(matrix) + 2 * QUIET)
    path = "".join(f"M{QUIET + x} {QUIET + y}h{n}v1h-{n}z" for y, row in enumerate(matrix) for x, n in _runs(row))
    return f'<path transform="translate({INSIDE_MM} {INSIDE_MM}) scale({scale:.5f})" d="{path}"/>'


def _runs(row: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Yield where each run of dark modules begins, and how long it is."""
    x = 0
    for dark, run in groupby(row):
        n = len(list(run))
        if dark:
            yield x, n
        x += n
