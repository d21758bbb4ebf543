"""The small chart of a mail: bars as cells of a table beside their numbers, which every mail reader shows."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Final

from alerts.facts import Facts
from alerts.telling import Telling
from shared import units

_MOST_ROWS: Final = 12
_WIDTH_PX: Final = 200
_CELL: Final = 'style="padding:2px 8px;text-align:right;white-space:nowrap"'


@dataclass(frozen=True, slots=True)
class Bar:
    """One hour: its numbers in words and how long its bar is."""

    hour: str
    coldest: str
    bound: str
    share: float
    """Of the longest bar, 0 to 1."""


@dataclass(frozen=True, slots=True)
class Chart:
    """Coldest concrete and the lower bound of strength by hour, ready to be drawn."""

    caption: str
    headings: tuple[str, str, str]
    bars: tuple[Bar, ...]


def chart_of(telling: Telling, about: str = "") -> Chart | None:
    """Return the chart in a message's facts; None when there is none or its numbers are no such thing."""
    value = telling.facts.json.get("chart")
    facts = Facts(value if isinstance(value, dict) else {})
    names = ("hours", "coldest_c", "bound_mpa")
    columns = zip(*(facts.numbers(name) for name in names), strict=False)
    rows = [(h, c, b) for h, c, b in columns if h is not None and c is not None and b is not None]
    if not rows:
        return None
    say, limit = telling.say, facts.number("limit_mpa")
    most = max(*(b for _, _, b in rows), limit or 0.0, 0.001)
    bars = [_bar(telling, row, most) for row in _thinned(rows)]
    if limit is not None:
        needed = units.shown(limit, "MPa", first=telling.first, limit=True)
        bars.append(Bar(say("chart-needs"), "", needed, _share(limit, most)))
    caption = ", ".join(filter(None, (about, say("chart"))))
    headings = say("chart-hour"), say("chart-coldest"), say("chart-bound")
    return Chart(caption, headings, tuple(bars))


def _thinned(rows: list[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
    """Return at most so many rows that a phone shows them; the newest is always one of them."""
    step = -(-len(rows) // _MOST_ROWS)
    return rows[::-1][::step][::-1]


def _bar(telling: Telling, row: tuple[float, float, float], most: float) -> Bar:
    hour, coldest, bound = row
    return Bar(
        units.shown(hour, "h", limit=False),
        units.shown(coldest, "degC", first=telling.first, limit=False),
        units.shown(bound, "MPa", first=telling.first, limit=False),
        _share(bound, most),
    )


def _share(value: float, most: float) -> float:
    return min(1.0, max(0.0, value / most))


def drawn(chart: Chart) -> str:
    """Return the chart as a table that reads well aloud too."""
    head = "".join(f'<th scope="col" {_CELL}>{escape(h)}</th>' for h in chart.headings)
    rows = "".join(_row(bar) for bar in chart.bars)
    return (
        '<table style="border-collapse:collapse;font-size:14px">'
        f'<caption style="text-align:left;padding:8px 0">{escape(chart.caption)}</caption>'
        f"<thead><tr>{head}<td></td></tr></thead><tbody>{rows}</tbody></table>"
    )


def _row(bar: Bar) -> str:
    width = round(_WIDTH_PX * bar.share)
    colour = "#1f4e79" if bar.coldest else "#8a8a8a"
    drawn_bar = (
        f'<table role="presentation" aria-hidden="true" cellpadding="0" cellspacing="0"><tr>'
        f'<td width="{width}" height="12" bgcolor="{colour}" style="font-size:1px;line-height:12px">&nbsp;</td>'
        f"</tr></table>"
    )
    return (
        f'<tr><th scope="row" {_CELL}>{escape(bar.hour)}</th><td {_CELL}>{escape(bar.coldest)}</td>'
        f"<td {_CELL}>{escape(bar.bound)}</td><td>{drawn_bar if width else ''}</td></tr>"
    )
