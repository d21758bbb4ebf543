"""How many readings and messages stand refused: one count for every place that shows it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

from shared.models.readings import Refusal
from shared.ports import BoardRow


def refused_by_sensor(refusals: Iterable[Refusal], rows: Iterable[BoardRow]) -> Mapping[str, Mapping[str, int]]:
    """Return how much stands refused, by sensor ("" for none) and reason.

    Args:
        refusals: what was refused on its way in; what a person had screened again and was answered does not stand.
        rows: the pours on the board, with the error values that only a reading's neighbours gave away.
    """
    counts: dict[str, Counter[str]] = {}
    for one in refusals:
        if one.decided_ms is None:
            counts.setdefault(one.refused.sensor or "", Counter())[str(one.refused.reason)] += 1
    for row in rows:
        estimate = row.state.estimate
        for account in () if estimate is None else estimate.sensors:
            for reason, number in account.refused.items():
                counts.setdefault(account.sensor, Counter())[reason] += number
    return {sensor: dict(sorted(found.items())) for sensor, found in sorted(counts.items())}
