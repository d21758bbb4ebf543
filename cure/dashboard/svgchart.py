"""A chart as an SVG: the same text on page, paper, record and e-mail. Pure; values in, text out.

A line's places are whole tenths of a unit, each from the one before, so that a page's script reads the values back
from the picture: there is no second copy of them. Every name is escaped; there is no style attribute and no script.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import escape
from typing import Final

import numpy as np

from cure.dashboard.frame import Frame, frames, spread
from cure.dashboard.ink import DASHES, DIAMOND, DOT, FONTS, LETTER, LINE, LOOK, MARKS, STRIP, WIDE, Size
from cure.dashboard.layers import Band, Chart, Level, Line, Point, Shade, Spans, Strip, Upright
from cure.dashboard.thinning import pieces, thinned
from cure.maturity import Floats

_NAMESPACE: Final = 'xmlns="http://www.w3.org/2000/svg"'
_SEEN: Final = 0.5
"""As wide as this a stretch is seen. [units]"""
_SHORTEST: Final = 4
"""Letters that are left of a name in the narrowest room."""


def svgchart(chart: Chart, size: Size = WIDE) -> str:
    """Return the chart in one size."""
    placed = frames(chart, size)
    first, last = placed[0], placed[-1]
    height = last.foot + LINE * (1 + bool(chart.across.name) + (chart.second is not None)) + 8
    # Of what an id may be made of: one that is looked for has no blank.
    name = re.sub(r"[^\w-]", "-", f"{chart.key}-{size.name}")
    ends = f"{size.left},{size.width - size.right},{chart.across.first:.15g},{chart.across.last:.15g}"
    parts = [
        f'<svg {_NAMESPACE} class="chart {size.name}" viewBox="0 0 {size.width} {height:g}" role="img"',
        f' aria-labelledby="{escape(name)}" data-chart="{escape(chart.key)}" data-x="{ends}"',
        f' data-kind="{chart.across.kind}" data-zone="{escape(chart.across.zone)}">',
        f'<title id="{escape(name)}">{escape(chart.title)}</title>',
        _hatching(name) if any(s.hatched for p in chart.panels for s in p.strips) else "",
    ]
    for frame in placed:
        parts += _panel(frame, name)
    parts += _below(chart, first, last)
    return "".join(parts) + "</svg>"


def both(chart: Chart, sizes: tuple[Size, ...]) -> str:
    """Return the chart in several sizes, of which the stylesheet shows one."""
    return "".join(svgchart(chart, size) for size in sizes)


def alone(svg: str, fonts: str = FONTS) -> str:
    """Return a chart with its stylesheet inside, for where there is no page around it."""
    opening, rest = svg.split(">", 1)
    return f"{opening}><style>{LOOK.replace(FONTS, fonts)}</style>{rest}"


def _hatching(name: str) -> str:
    return (
        f'<pattern id="{escape(name)}-h" width="5" height="5" patternUnits="userSpaceOnUse">'
        '<path d="M-1 1 1-1M0 5 5 0M4 6 6 4"/></pattern>'
    )


def _panel(frame: Frame, name: str) -> Iterator[str]:
    panel = frame.panel
    rows: dict[type, list[str]] = {kind: [] for kind in (Shade, Band, Level, Line, Point)}
    ends: list[tuple[float, int, Line]] = []
    for layer in panel.layers:
        if isinstance(layer, Upright):
            continue
        drawn = _drawn(frame, layer)
        rows[type(layer)].append(drawn)
        if isinstance(layer, Line) and drawn and layer.label != "":
            last = float(layer.y[np.flatnonzero(np.isfinite(layer.y))[-1]])
            ends.append((float(frame.y(np.array([last]))[0]), len(ends), layer))
    yield from rows[Shade]
    yield from _grid(frame)
    unit, scale = escape(panel.unit), f"{frame.top:g},{frame.bottom:g},{frame.high:.15g},{frame.low:.15g}"
    yield f'<g transform="scale(.1)" data-y="{scale}" data-unit="{unit}">'
    yield "".join((*rows[Band], *rows[Line])) + "</g>"
    yield from (*rows[Level], *_words(frame), *_uprights(frame), *rows[Point])
    yield from _ends(frame, ends)
    for n, strip in enumerate(panel.strips):
        yield from _strip(frame, strip, n, name)


def _drawn(frame: Frame, layer: Line | Band | Level | Point | Shade) -> str:
    match layer:
        case Line():
            return _line(frame, layer)
        case Band():
            return _band(frame, layer)
        case Level():
            y = frame.at(layer.value)
            return f'<path class="{"l" if layer.kind == "limit" else "z"}" d="M{frame.left} {y}H{frame.right}"/>'
        case Point():
            return _point(frame, layer)
        case Shade():
            boxes = _boxes(frame, layer.spans, frame.top, frame.bottom - frame.top)
            return f'<path class="{layer.kind}" d="{boxes}"><title>{escape(layer.name)}</title></path>' if boxes else ""


def steps(x: Floats, y: Floats) -> str:
    """Return one stretch as the text of a path: its first place, then each from the one before. [tenths]"""
    across, down = np.round(x * 10.0).astype(np.int64), np.round(y * 10.0).astype(np.int64)
    right, below = np.diff(across), np.diff(down)
    moved = (right != 0) | (below != 0)
    pairs = np.stack((right[moved], below[moved]), axis=1).ravel().tolist() or [0, 0]
    return f"M{across[0]} {down[0]}l{' '.join(map(str, pairs))}".replace(" -", "-")


def _line(frame: Frame, line: Line) -> str:
    x, y = frame.x(line.x), frame.y(line.y)
    drawn = []
    for piece in pieces(x, y):
        kept = piece[thinned(x[piece], y[piece])]
        drawn.append(steps(x[kept], y[kept]))
    if not drawn:
        return ""
    kind = {"air": "a air", "forecast": f"a s{line.ink % len(DASHES)} f"}.get(line.kind, f"a s{line.ink % len(DASHES)}")
    dashes = DASHES[line.ink % len(DASHES)] if line.kind == "" else ""
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    name = escape(line.name)
    return f'<path class="{kind}"{dashed} data-name="{name}" d="{"".join(drawn)}"><title>{name}</title></path>'


def _band(frame: Frame, band: Band) -> str:
    x, low, high = frame.x(band.x), frame.y(band.low), frame.y(band.high)
    drawn = []
    for piece in pieces(x, low + high):
        # Their ends, and a point a column: a band has no peak of its own to lose.
        below, above = (piece[thinned(x[piece], edge[piece])] for edge in (low, high))
        both_x = np.concatenate((x[below], x[above][::-1]))
        drawn.append(steps(both_x, np.concatenate((low[below], high[above][::-1]))) + "z")
    return f'<path class="b" d="{"".join(drawn)}"><title>{escape(band.name)}</title></path>' if drawn else ""


def _point(frame: Frame, point: Point) -> str:
    x, y = frame.across(point.x), frame.at(point.y)
    bar = ""
    if np.isfinite(point.low) and np.isfinite(point.high):
        top, bottom = frame.at(point.high), frame.at(point.low)
        bar = f'<path class="r" d="M{x:.1f} {top}V{bottom}M{x - 3:.1f} {top}h6M{x - 3:.1f} {bottom}h6"/>'
    form = DIAMOND if point.form == "diamond" else DOT
    mark = f'<path class="p{" bad" if point.bad else ""}" transform="translate({x:.1f} {y})" d="{form}">'
    return f"{bar}{mark}<title>{escape(point.title)}</title></path>"


def _grid(frame: Frame) -> Iterator[str]:
    yield '<g class="g">'
    for mark in frame.up:
        y = frame.at(mark.at)
        yield f'<path d="M{frame.left} {y}H{frame.right}"/>'
        yield f'<text x="{frame.left - 6}" y="{y + 4:.1f}" text-anchor="end">{escape(mark.label)}</text>'
    for mark in frame.marks:
        yield f'<path d="M{frame.across(mark.at):.1f} {frame.top}V{frame.bottom}"/>'
    yield f'<text x="2" y="{frame.top - 10}">{escape(frame.panel.unit)}</text></g>'


def _words(frame: Frame) -> Iterator[str]:
    """Yield the words of the levels, apart from each other."""
    levels = [la for la in frame.panel.layers if isinstance(la, Level) and la.label]
    levels.sort(key=lambda level: -level.value)
    wanted = [frame.at(level.value) - 5 for level in levels]
    for level, y in zip(levels, spread(wanted, LINE, frame.top + 10, frame.bottom - 4), strict=True):
        said = level.short if level.short and frame.size.narrow else level.label
        where = f'x="{frame.left + 6}"' if level.side == "left" else f'x="{frame.right - 6}" text-anchor="end"'
        yield f'<text class="t" {where} y="{y:.1f}">{escape(said)}</text>'


def _uprights(frame: Frame) -> Iterator[str]:
    """Yield the lines from foot to top with their words, each in the first row in which it lies over no other's."""
    ends: list[float] = []
    for upright in sorted((la for la in frame.panel.layers if isinstance(la, Upright)), key=lambda la: la.x):
        x, wide = frame.across(upright.x), LETTER * len(upright.label)
        late = x > 0.5 * (frame.left + frame.right)
        first = x - 4 - wide if late else x + 4
        row = next((n for n, end in enumerate(ends) if end <= first), len(ends))
        ends[row : row + 1] = [first + wide]
        where = f'x="{x + (-4 if late else 4):.1f}" y="{frame.top + 11 + LINE * row}"'
        words = f'<text class="t" {where} text-anchor="{"end" if late else "start"}">{escape(upright.label)}</text>'
        yield f'<path class="n" d="M{x:.1f} {frame.top}V{frame.bottom}"/>{words}'


def _ends(frame: Frame, ends: list[tuple[float, int, Line]]) -> Iterator[str]:
    """Yield the marks and names at the ends of the lines, apart from each other."""
    ends = sorted(ends, key=lambda end: end[:2])
    places = spread([y for y, _, _ in ends], LINE, frame.top + 4, frame.bottom - 4)
    for (_, _, line), y in zip(ends, places, strict=True):
        n = line.ink % len(MARKS)
        mark = MARKS[n] if line.kind != "forecast" else "M-5 0h3M-1 0h3M3 0h2"
        yield f'<path class="e s{n}" transform="translate({frame.right + 9} {y:.1f})" d="{mark}"/>'
        yield _aside(frame, line.name if line.label is None else line.label, y + 4, 18)


def _aside(frame: Frame, name: str, y: float, indent: float) -> str:
    """Return words in the room right of the panel, cut to fit."""
    most = max(_SHORTEST, int((frame.size.right - indent) / LETTER))
    said = name if len(name) <= most else name[: most - 1].rstrip() + "…"
    return f'<text x="{frame.right + indent:g}" y="{y:.1f}">{escape(said)}</text>'


def _reaches(frame: Frame, spans: Spans) -> list[tuple[float, float]]:
    """Return where each span begins and how wide it is; what is there is seen, however short. [units]"""
    if not len(spans):
        return []
    ends = np.array(spans, float)
    inside = (ends[:, 1] >= frame.axis.first) & (ends[:, 0] <= frame.axis.last)
    first, last = np.clip(frame.x(ends), frame.left, frame.right).T
    return [(float(x), max(float(end - x), _SEEN)) for x, end in zip(first[inside], last[inside], strict=True)]


def _boxes(frame: Frame, spans: Spans, top: float, height: float) -> str:
    """Return the boxes over spans, which ascend, as the text of a path; two that nobody could tell apart are one."""
    joined: list[list[float]] = []
    for x, wide in _reaches(frame, spans):
        if joined and x - joined[-1][1] < 0.5 * _SEEN:
            joined[-1][1] = max(joined[-1][1], x + wide)
        else:
            joined.append([x, x + wide])
    return "".join(f"M{x:.1f} {top:g}h{end - x:.1f}v{height:g}h-{end - x:.1f}z" for x, end in joined)


def _strip(frame: Frame, strip: Strip, n: int, name: str) -> Iterator[str]:
    top = frame.bottom + 4 + LINE * n
    yield '<g class="s">' + _aside(frame, strip.label, top + 8, 6) + "</g>"
    if not strip.hatched:
        boxes = _boxes(frame, strip.spans, top, STRIP)
        yield f'<path class="w" d="{boxes}"><title>{escape(strip.label)}</title></path>' if boxes else ""
        return
    for span, title in zip(strip.spans, strip.titles, strict=True):
        for x, wide in _reaches(frame, [span]):
            box = f'x="{x:.1f}" y="{top}" width="{wide:.1f}" height="{STRIP}"'
            # A box and not a path: the stylesheet says how paths are filled.
            yield f'<rect class="h" {box} fill="url(#{escape(name)}-h)"><title>{escape(title)}</title></rect>'


def _below(chart: Chart, first: Frame, last: Frame) -> Iterator[str]:
    """Yield what stands below the last panel, and the place of the crosshair."""
    y = last.foot + LINE
    yield '<g class="g">'
    for mark in last.marks:
        yield f'<text x="{last.across(mark.at):.1f}" y="{y}" text-anchor="middle">{escape(mark.label)}</text>'
    if chart.second is not None:
        y += LINE
        free = 0.0
        for mark in chart.second.marks:
            x, half = last.across(mark.at), 0.5 * LETTER * (len(mark.label) + 1)
            # The earlier of two that lie too near each other stays.
            if x - half >= free:
                yield f'<text x="{x:.1f}" y="{y}" text-anchor="middle">{escape(mark.label)}</text>'
                free = x + half
        yield _aside(last, chart.second.name, y, 6)
    if chart.across.name:
        y += LINE
        middle = 0.5 * (last.left + last.right)
        yield f'<text x="{middle:g}" y="{y}" text-anchor="middle">{escape(chart.across.name)}</text>'
    yield f'</g><path class="cross" data-span="{first.top},{last.bottom}" d=""/>'
