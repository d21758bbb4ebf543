"""How much of the spread of an hour is put down to each source: weather, heat model, mix. Pure.

Source: R. H. Lindeman, P. F. Merenda, R. Z. Gold, "Introduction to bivariate and multivariate analysis", 1980 (from
memory): the gain in explained variance by a group, averaged over the orders in which the groups come in.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import permutations

import numpy as np

from cure.draws import PARAMETERS, SHARED
from cure.forecast import Ensemble, Source
from cure.maturity import Floats

STRETCHES = 4
"""Into which the error of the air is averaged."""
LITTLE_H = 1e-3
"""Below such a spread there is none to share."""


def features(ensemble: Ensemble, air_error_c: Floats) -> dict[Source, Floats]:
    """Return what each source was in each member, shape (features, members).

    Args:
        ensemble: the members.
        air_error_c: the error of each member's air in each step, shape (steps, members).
    """
    rows: dict[Source, list[Floats]] = {source: [] for source in Source}
    for row, name in enumerate(SHARED):
        rows[PARAMETERS[name]].append(ensemble.drawn[row])
    for row in range(len(SHARED), len(ensemble.drawn)):
        rows[Source.HEAT_MODEL].append(ensemble.drawn[row])
    rows[Source.WEATHER] += [part.mean(axis=0) for part in np.array_split(air_error_c, STRETCHES)]
    return {source: np.stack(of) for source, of in rows.items()}


def shares(hours: Floats, by: Mapping[Source, Floats]) -> dict[Source, float]:
    """Return the share of each source in the variance of hours, by straight lines; what bends is in none.

    Args:
        hours: of each member, numbers, shape (members,).
        by: as of `features`.
    """
    if float(np.std(hours)) < LITTLE_H:
        return dict.fromkeys(by, 0.0)
    known: dict[frozenset[Source], float] = {frozenset(): 0.0}

    def explained(group: frozenset[Source]) -> float:
        if group not in known:
            known[group] = _explained(hours, np.concatenate([by[s] for s in by if s in group]))
        return known[group]

    gains = dict.fromkeys(by, 0.0)
    orders = list(permutations(by))
    for order in orders:
        for i, source in enumerate(order):
            gains[source] += explained(frozenset(order[: i + 1])) - explained(frozenset(order[:i]))
    return {source: max(0.0, gain / len(orders)) for source, gain in gains.items()}


def _explained(hours: Floats, rows: Floats) -> float:
    """Return the share of variance that a straight line in the rows explains, adjusted for their number."""
    around = hours - hours.mean()
    table = rows[rows.std(axis=1) > 0.0]
    table = (table - table.mean(axis=1, keepdims=True)).T
    fitted, _, rank, _ = np.linalg.lstsq(table, around, rcond=None)
    left = float(np.sum((around - table @ fitted) ** 2)) / float(np.sum(around**2))
    free = len(hours) - 1 - int(rank)
    return 1.0 - left * (len(hours) - 1) / free if free > 0 else 0.0
