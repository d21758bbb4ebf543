"""Pieces of a printed page: tables, lists, lines to sign on. Pure; values in, HTML out."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Final

from cure.dashboard.ink import LOOK

STYLE: Final = (
    "body{font:14px/1.4 sans-serif;max-width:60em;margin:2em auto;padding:0 1em;color:#222}"
    "table{border-collapse:collapse}td,th{border:1px solid #bbb;padding:.15em .5em;text-align:left}"
    "h1 small{font-weight:normal}.verdict{font-size:1.3em;border:2px solid #222;padding:.4em .6em}"
    ".line{border-bottom:1px solid #222;display:inline-block;width:22em;height:2em}.chart{margin-top:1em}" + LOOK
)
"""Of every page."""


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
