"""Pieces of a printed page: tables, lists, and the frame and lines of a plot. Pure; values in, HTML and SVG out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from typing import Final, TypeAlias

WIDTH, HEIGHT, LEFT, TOP, RIGHT, BOTTOM = 720, 420, 60, 20, 700, 370
"""Of a plot, and of the frame within it. [px]"""
INK: Final = "#222"
BLUE: Final = "#05a"
RED: Final = "#c00"
Scale: TypeAlias = Callable[[float], float]
"""Where a value lies in a plot. [px]"""


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table; its cells are plain text."""

    def line(cells: Sequence[str], tag: str) -> str:
        return "<tr>" + "".join(f"<{tag}>{escape(cell)}</{tag}>" for cell in cells) + "</tr>"

    return "<table>" + (line(head, "th") if head else "") + "".join(line(row, "td") for row in rows) + "</table>"


def bullets(items: Sequence[str], none: str) -> str:
    """Return a list of plain texts, or what stands for none of them."""
    return "<ul>" + "".join(f"<li>{escape(item)}</li>" for item in items or (none,)) + "</ul>"


def between(first: float, last: float, from_px: float, to_px: float) -> Scale:
    """Return the scale that lays the first value at one place and the last at the other."""
    return lambda value: from_px + (to_px - from_px) * (value - first) / (last - first)


def frame(title: str) -> list[str]:
    """Return how a plot begins; it ends with `</svg>`."""
    return [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" font-size="12">',
        f"<title>{escape(title)}</title>",
        f'<rect x="{LEFT}" y="{TOP}" width="{RIGHT - LEFT}" height="{BOTTOM - TOP}" fill="none" stroke="{INK}"/>',
    ]


def axes(across: Sequence[tuple[float, str]], up: Sequence[tuple[float, str]], named: tuple[str, str]) -> list[str]:
    """Return the marks of both axes, each with its place, and what the axes are."""
    below = [f'<text x="{x:.1f}" y="{BOTTOM + 16}" text-anchor="middle">{escape(mark)}</text>' for x, mark in across]
    beside = [f'<text x="{LEFT - 6}" y="{y + 4:.1f}" text-anchor="end">{escape(mark)}</text>' for y, mark in up]
    what = [
        f'<text x="{(LEFT + RIGHT) / 2}" y="{HEIGHT - 12}" text-anchor="middle">{escape(named[0])}</text>',
        f'<text x="14" y="{TOP - 6}">{escape(named[1])}</text>',
    ]
    return below + beside + what


def path(points: Sequence[tuple[float, float]], colour: str, dashes: str = "") -> str:
    """Return a line through points."""
    at = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polyline points="{at}" fill="none" stroke="{colour}" stroke-width="1.5" stroke-dasharray="{dashes}"/>'


def dot(x: float, y: float, colour: str) -> str:
    """Return the mark of one specimen or point."""
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.5" fill="none" stroke="{colour}" stroke-width="1.5"/>'
