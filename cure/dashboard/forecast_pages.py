"""How good the forecasts were, by the figures of `slabhour forecast score`. A score releases nothing."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from markupsafe import Markup
from starlette.responses import Response

from cure.dashboard.asked import Asked, Parts
from cure.dashboard.ink import SIZES
from cure.dashboard.reader import Reader
from cure.dashboard.rendering import page
from cure.dashboard.svgchart import both
from cure.forecast_chart import Words, chart
from cure.forecast_scores import LAST_POURS, TOO_SURE, Line, Rolling, scores
from shared.models.forecasts import ScoredForecast


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {("GET", "/forecasts"): lambda asked: _page(parts, asked)}


def _page(parts: Parts, asked: Asked) -> Response:
    scored, reader = parts.beside.scored(), asked.reader
    report = scores(scored)
    whole, *of_parts = report.lines
    by_lead = [line for line in of_parts if line.lead_h is not None]
    by_mix = [line for line in of_parts if line.mix is not None]
    left_out = {"closed": report.closed, "late": report.late}
    return page(
        asked,
        "forecasts.html",
        any=whole.forecasts > 0,
        heads=[reader.say(f"score-{key}") for key in ("cases", "inside", "crps", "error", "bias")],
        by_lead=[_line(line, reader) for line in (whole, *by_lead)],
        by_mix=[_line(line, reader) for line in by_mix],
        spread=spread(report.rolling, reader),
        left_out=[reader.say(f"score-left-{key}", count=count) for key, count in left_out.items() if count],
        chart=_chart(scored, asked) if whole.forecasts else "",
        hour=reader.whole_hour(asked.now),
    )


def _line(line: Line, reader: Reader) -> tuple[bool, str, list[str]]:
    known = reader.say("score-many", forecasts=line.forecasts, cases=line.cases)
    if not line.forecasts:
        return False, _name(line, reader), [known, "-", "-", "-", "-"]
    share = reader.say(
        "score-share", share=percent(line.covered), low=percent(line.covered_low), high=percent(line.covered_high)
    )
    numbers = (f"{line.crps_h:.1f} h", f"{line.error_h:.1f} h", f"{line.bias_h:+.1f} h")
    return line.mix is None and line.lead_h is None, _name(line, reader), [known, share, *numbers]


def percent(share: float) -> str:
    """Return a share from 0 to 1 in whole percent; "-": not known."""
    return f"{100 * share:.0f}" if math.isfinite(share) else "-"


def _name(line: Line, reader: Reader) -> str:
    if line.lead_h is not None:
        low, high = (f"{h:g}" for h in line.lead_h)
        return reader.say("score-lead" if math.isfinite(line.lead_h[1]) else "score-lead-more", low=low, high=high)
    if line.mix is None:
        return reader.say("score-all")
    return f"{reader.say('mix', mix=line.mix)}, {reader.operation(line.operation or '')}"


def spread(rolling: Rolling, reader: Reader) -> list[str]:
    """Return what the last pours say of the spread, and by how much new ones are widened."""
    if rolling.pours < LAST_POURS:
        return [reader.say("score-few", pours=rolling.pours, wanted=LAST_POURS)]
    said = [reader.say("score-last", pours=rolling.pours, share=percent(rolling.covered))]
    if rolling.widened == 1.0:
        return [*said, reader.say("score-not-widened", least=percent(TOO_SURE))]
    said.append(reader.say("score-widened", factor=f"{rolling.widened:.2f}", least=percent(TOO_SURE)))
    return said if rolling.enough else [*said, reader.say("score-not-enough")]


def _chart(scored: Sequence[ScoredForecast], asked: Asked) -> Markup:
    say = asked.reader.say
    words = Words(
        title=say("score-chart", site=asked.site.site.name),
        across=say("score-chart-across"),
        off=say("score-chart-off"),
        inside=say("score-chart-inside", pours=LAST_POURS),
        right=say("score-chart-right"),
        widened=say("score-chart-widened"),
    )
    return Markup(both(chart(words, scored), SIZES))  # noqa: S704 - SVG of ours, escaped already
