"""A sheet as a small HTML document: nothing from elsewhere, everything escaped, the verdict first, the caution last."""

from __future__ import annotations

from html import escape
from typing import Final

from alerts.chart import drawn
from alerts.phrase import Block
from alerts.sheet import Sheet

_STYLE: Final = "font-family:sans-serif;font-size:16px;line-height:1.4;color:#111;background:#fff;max-width:40em"


def document(sheet: Sheet, language: str) -> str:
    """Return the whole document."""
    parts = [
        f'<h1 style="font-size:20px">{escape(sheet.headline)}</h1>',
        _table((*sheet.numbers, *sheet.place)),
        *(f'<p style="margin:4px 0">{escape(line)}</p>' for line in sheet.lines),
        *map(_block, sheet.blocks),
        *map(drawn, sheet.charts),
        f"<p><strong>{escape(sheet.caution)}</strong></p>",
    ]
    return (
        f'<!DOCTYPE html>\n<html lang="{escape(language)}">\n<head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width">'
        f"<title>{escape(sheet.subject)}</title></head>\n"
        f'<body style="{_STYLE}">\n' + "\n".join(parts) + "\n</body>\n</html>\n"
    )


def _table(rows: tuple[tuple[str, str], ...]) -> str:
    cells = "".join(
        f'<tr><th scope="row" style="text-align:left;padding-right:12px">{escape(label)}</th>'
        f"<td>{escape(value)}</td></tr>"
        for label, value in rows
    )
    return f'<table style="border-collapse:collapse;margin-bottom:8px">{cells}</table>'


def _block(block: Block) -> str:
    items = "".join(f"<li>{escape(line)}</li>" for line in block.lines)
    return f'<h2 style="font-size:16px">{escape(block.heading)}</h2><ul>{items}</ul>'
