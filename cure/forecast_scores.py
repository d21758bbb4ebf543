"""How good the forecasts were: coverage of the 80 % interval, score, error and bias, by lead, operation and mix; and by
how much the next ones are widened. Pure.

Forecasts of one operation of one pour are much alike: they count as one, with the mean of what each says.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Final

from shared.models.base import HOUR_MS, Json, MixId, Ms, Operation
from shared.models.forecasts import KeptForecast, Outcome, ScoredForecast

LEADS_H: Final = ((0.0, 6.0), (6.0, 12.0), (12.0, 24.0), (24.0, 48.0), (48.0, math.inf))
"""How long before it came a forecast was made."""
TOO_SURE: Final = 0.70
LAST_POURS: Final = 30
FACTOR: Final = 1.2
MOST_STEPS: Final = 5
"""By up to 2.5 (our judgement): a model that is off by more wants a person."""
WANTED: Final = 0.80


@dataclass(frozen=True, slots=True)
class Line:
    """What some forecasts came to; NaN: none of them says."""

    mix: MixId | None
    """None: all mixes."""
    operation: Operation | None
    lead_h: tuple[float, float] | None
    forecasts: int
    cases: int
    """Operations of pours."""
    covered: float
    """Share that came inside the interval from 10 to 90 %; 0.80 is perfect."""
    covered_low: float
    covered_high: float
    """The 95 % interval of that by Wilson, from the number of cases."""
    crps_h: float
    error_h: float
    """Mean distance from the middle hour."""
    bias_h: float
    """Mean of hour found less the middle hour: above 0, it came later than expected."""

    def to_json(self) -> dict[str, Json]:
        """Return the line as a JSON object; None for what is not known."""
        lead = None if self.lead_h is None else [h if math.isfinite(h) else None for h in self.lead_h]
        said = {k: None if isinstance(v, float) and not math.isfinite(v) else v for k, v in asdict(self).items()}
        return {**said, "lead_h": lead}


@dataclass(frozen=True, slots=True)
class Rolling:
    """What the last pours say of the spread."""

    pours: int
    covered: float
    """By the spread as it is without widening; NaN: no pour is scored."""
    widened: float
    said: str
    enough: bool = True
    """Whether so wide a spread would have held enough of them."""


@dataclass(frozen=True, slots=True)
class Scores:
    """The whole report."""

    lines: tuple[Line, ...]
    rolling: Rolling
    closed: int
    """Forecasts whose pour was closed before: not scored."""
    late: int
    """Made when the evidence was there already: not scored."""


def wilson(share: float, n: int) -> tuple[float, float]:
    """Return the 95 % interval of a share of n.

    Source: E. B. Wilson, Journal of the American Statistical Association 22, 1927 (from memory).
    """
    if n == 0 or math.isnan(share):
        return math.nan, math.nan
    z = 1.959964
    middle = share + z * z / (2 * n)
    reach = z * math.sqrt(share * (1.0 - share) / n + z * z / (4 * n * n))
    return max(0.0, (middle - reach) / (1 + z * z / n)), min(1.0, (middle + reach) / (1 + z * z / n))


def counted(scored: Sequence[ScoredForecast]) -> list[ScoredForecast]:
    """Return those that count: scored, and made before it came."""
    return [s for s in scored if s.score.crps_h is not None]


def found_ms(one: ScoredForecast) -> float:
    """Return when it came; infinite: not within the horizon."""
    return math.inf if one.score.found_ms is None else float(one.score.found_ms)


def _hour(at_ms: Ms | None) -> float:
    return math.inf if at_ms is None else float(at_ms)


def _scaled(kept: KeptForecast, factor: float) -> tuple[float, float]:
    """Return the interval as it would have been with another factor, about its middle hour."""
    low, middle, high = _hour(kept.low_ms), _hour(kept.middle_ms), _hour(kept.high_ms)
    if math.isinf(middle):
        return low, high
    ratio = factor / kept.widened
    return middle - (middle - low) * ratio, high if math.isinf(high) else middle + (high - middle) * ratio


def inside(one: ScoredForecast, factor: float | None = None) -> bool:
    """Return whether it came in the interval; `factor`: as it would have been, widened by that from the start."""
    low, high = _scaled(one.forecast, one.forecast.widened if factor is None else factor)
    found = found_ms(one)
    return low <= found <= high


def error_h(one: ScoredForecast) -> float:
    """Return by how much it came later than the middle hour; neither counts beyond the horizon."""
    horizon = float(one.forecast.horizon_ms)
    return (min(found_ms(one), horizon) - min(_hour(one.forecast.middle_ms), horizon)) / HOUR_MS


def lead_of(one: ScoredForecast) -> float:
    """Return how long before it came it was made; not within the horizon: the whole horizon."""
    return one.forecast.lead_h(round(min(found_ms(one), float(one.forecast.horizon_ms))))


def _by_case(of: Sequence[ScoredForecast], value: Callable[[ScoredForecast], float]) -> list[float]:
    """Return the mean of a value for each operation of each pour, in the order in which they were scored."""
    found: dict[tuple[str, str], list[float]] = {}
    for one in of:
        found.setdefault((one.forecast.pour, one.forecast.operation), []).append(value(one))
    return [sum(values) / len(values) for values in found.values()]


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values) if values else math.nan


def line_of(
    of: Sequence[ScoredForecast], mix: MixId | None, operation: Operation | None, lead_h: tuple[float, float] | None
) -> Line:
    """Return what some forecasts came to."""
    covered = _by_case(of, lambda one: float(inside(one)))
    low, high = wilson(_mean(covered), len(covered))
    return Line(
        mix,
        operation,
        lead_h,
        len(of),
        len(covered),
        _mean(covered),
        low,
        high,
        _mean(_by_case(of, lambda one: math.nan if one.score.crps_h is None else one.score.crps_h)),
        _mean(_by_case(of, lambda one: abs(error_h(one)))),
        _mean(_by_case(of, error_h)),
    )


def _lines(of: Sequence[ScoredForecast]) -> Iterator[Line]:
    yield line_of(of, None, None, None)
    for lead in LEADS_H:
        yield line_of([s for s in of if lead[0] <= lead_of(s) < lead[1]], None, None, lead)
    for mix in sorted({s.forecast.mix for s in of}):
        here = [s for s in of if s.forecast.mix == mix]
        for operation in sorted({s.forecast.operation for s in here}):
            yield line_of([s for s in here if s.forecast.operation == operation], mix, operation, None)


def rolling(scored: Sequence[ScoredForecast]) -> Rolling:
    """Return by how much the spread is to be widened, from the last pours.

    The smallest of 1, 1.2, 1.44, ... with which at least 0.70 of what came would have lain inside; so it goes back by
    itself when the model gets better, and does not swing because earlier ones were widened already.

    Args:
        scored: in the order of scoring.
    """
    of = counted(scored)
    last = list(dict.fromkeys(s.forecast.pour for s in reversed(of)))[:LAST_POURS]
    here = [s for s in of if s.forecast.pour in set(last)]
    steps = [FACTOR**step for step in range(MOST_STEPS + 1)]
    covered = {factor: _covered_by_pour(here, factor) for factor in steps}
    share = covered[1.0]
    if len(last) < LAST_POURS:
        return Rolling(
            len(last), share, 1.0, f"{len(last)} pours are scored; from {LAST_POURS} on the spread is held to them"
        )
    factor = next((f for f in steps if covered[f] >= TOO_SURE), steps[-1])
    share_told = f"of the last {LAST_POURS} pours {100 * share:.0f} % came inside the 80 % interval as the model has it"
    if factor == 1.0:
        return Rolling(len(last), share, 1.0, share_told)
    enough = covered[factor] >= TOO_SURE
    more = "" if enough else ", which is not enough: the model wants a person to look at it"
    return Rolling(len(last), share, factor, f"{share_told}: the spread is widened by {factor:.2f}{more}", enough)


def _covered_by_pour(here: Sequence[ScoredForecast], factor: float) -> float:
    found: dict[str, list[float]] = {}
    for one in here:
        found.setdefault(one.forecast.pour, []).append(float(inside(one, factor)))
    return _mean([_mean(values) for values in found.values()])


def scores(scored: Sequence[ScoredForecast]) -> Scores:
    """Return the report of what is scored, in the order of scoring."""
    of = counted(scored)
    closed = sum(s.score.outcome is Outcome.CLOSED for s in scored)
    return Scores(tuple(_lines(of)), rolling(scored), closed, len(scored) - len(of) - closed)
