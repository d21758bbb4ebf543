"""Pieces of a printed page: tables, lists, and the frame and lines of a plot. Pure; values in, HTML and SVG out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from typing import Final, TypeAlias

WIDTH, HEIGHT, LEFT, TOP, RIGHT, BOTTOM = 720, 420, 60, 20, 700, 370
"""Of a plot, and of the frame within it. [px]"""
INK: Final = "#222"
BLUE: Final = "#05a"
GREY: Final = "#777"
RED: Final = "#c00"
STYLE: Final = (
    "body{font:14px/1.4 sans-serif;max-width:60em;margin:2em auto;padding:0 1em;color:#222}"
    "table{border-collapse:collapse}td,th{border:1px solid #bbb;padding:.15em .5em;text-align:left}"
    "h1 small{font-weight:normal}.verdict{font-size:1.3em;border:2px solid #222;padding:.4em .6em}"
    ".line{border-bottom:1px solid #222;display:inline-block;width:22em;height:2em}svg{max-width:100%;margin-top:1em}"
)
"""Of every page."""
Scale: TypeAlias = Callable[[float], float]
"""Where a value lies in a plot. [px]"""


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table; its cells are plain text."""

    def line(cells: Sequence[str], tag: str) -> str:
        return "<tr>" + "".join(f"<{tag}>{escape(cell)}</{tag}>" for cell in cells) + "</tr>"

    return "<table>" + (line(head, "th") if head else "") + "".join(line(row, "td") for row in rows) + "</table>"


def signatures(who: Sequence[str]) -> str:
    """Return a line for each to sign on."""
    return "".join(f'<p>{one}: <span class="line"></span> date: <span class="line"></span></p>' for one in who)


def bullets(items: Sequence[str], none: str) -> str:
    """Return a list of plain texts, or what stands for none of them."""
    return "<ul>" + "".join(f"<li>{escape(item)}</li>" for item in items or (none,)) + "</ul>"


def between(first: float, last: float, from_px: float, to_px: float) -> Scale:
    """Return the scale that lays the first value at one place and the last at the other."""
    return lambda value: from_px + (to_px - from_px) * (value - first) / (last - first)


def opening(title: str, height: int = HEIGHT) -> str:
    """Return how a picture begins; it ends with `</svg>`."""
    drawn = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" font-size="12">'
    return f"{drawn}<title>{escape(title)}</title>"


def box(top: int, bottom: int) -> str:
    """Return the frame of a plot."""
    return f'<rect x="{LEFT}" y="{top}" width="{RIGHT - LEFT}" height="{bottom - top}" fill="none" stroke="{INK}"/>'


def frame(title: str) -> list[str]:
    """Return how a picture of one plot begins."""
    return [opening(title), box(TOP, BOTTOM)]


def text(x: float, y: float, said: str, anchor: str = "start") -> str:
    """Return words in a picture."""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(said)}</text>'


def axes(across: Sequence[tuple[float, str]], up: Sequence[tuple[float, str]], named: tuple[str, str]) -> list[str]:
    """Return the marks of both axes, each with its place, and what the axes are."""
    below = [text(x, BOTTOM + 16, mark, "middle") for x, mark in across]
    beside = [text(LEFT - 6, y + 4, mark, "end") for y, mark in up]
    return [*below, *beside, text((LEFT + RIGHT) / 2, HEIGHT - 12, named[0], "middle"), text(14, TOP - 6, named[1])]


def path(points: Sequence[tuple[float, float]], colour: str, dashes: str = "") -> str:
    """Return a line through points."""
    at = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polyline points="{at}" fill="none" stroke="{colour}" stroke-width="1.5" stroke-dasharray="{dashes}"/>'


def dot(x: float, y: float, colour: str) -> str:
    """Return the mark of one specimen or point."""
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.5" fill="none" stroke="{colour}" stroke-width="1.5"/>'
