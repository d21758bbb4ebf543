"""A forecast as those who tell it are given it: plain values, which no gate reads. Pure."""

from __future__ import annotations

from cure.forecast import Expected, Forecast, NoForecast
from cure.foretold import Foretold, Helps
from cure.work import ForeseenHours


def hours_of(of: Expected) -> ForeseenHours:
    """Return what is told of one operation."""
    return ForeseenHours(
        even_ms=of.at(0.5),
        cautious_ms=of.at(0.9),
        early_ms=of.at(0.1),
        levels_ms=of.levels_ms(),
        waits_for={str(what): round(share, 3) for what, share in of.governs.items()},
        spread={str(source): round(share, 3) for source, share in of.spread.items()},
    )


def foretold(
    last: Forecast | NoForecast | None,
    standing: Forecast | None,
    helps: Helps | None,
) -> Foretold:
    """Return what is said of a pour.

    Args:
        last: what was made of it last; None: nobody has looked yet.
        standing: the forecast that is not too old; None: there is none.
        helps: what would bring late operations on.
    """
    if isinstance(last, NoForecast):
        return Foretold(none=f"{last.reason}; {last.how}")
    return Foretold() if standing is None else Foretold(standing.notes, helps=helps)
