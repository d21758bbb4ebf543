"""Which pours verify their calibration: a pour that should and does not fails, and one that need not and does."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from store_support import T0, make_calibration, make_pour, make_site

from cure.verification import BreakSet
from cure.verification_due import due
from shared.models.base import DAY_MS, HOUR_MS, PourId
from shared.ports import MixPour, MixRow

COLD = "no set yet of a pour below 10 °C in its first day, since it became so cold"


def row(cold: str, apart_h: float = 12.0) -> MixRow:
    """Return pours a, b, c ... that began one after another; `cold` says of each: c cold, w warm."""
    pours = []
    for n, how in enumerate(cold):
        start_ms = T0 + round(n * apart_h * HOUR_MS)
        pour = make_pour("abcdefghij"[n], start_ms=start_ms, end_ms=start_ms + HOUR_MS)
        pours.append(MixPour(pour, {"cold_start": True} if how == "c" else {}))
    return MixRow(make_site().mix[0], make_calibration(), True, tuple(pours), ())


def sets(of: str, days: float = 0.0) -> Sequence[BreakSet]:
    return [BreakSet(PourId(pour), T0 + round(days * DAY_MS), 3, 1.0, 0.0) for pour in of]


@pytest.mark.parametrize(
    ("cold", "tested", "pour", "reason"),
    [
        ("wwww", "", "d", None),
        ("wwwww", "", "e", "5 pours since the last with a set"),
        ("wwwwwww", "", "g", "7 pours since the last with a set"),
        ("wwwwww", "a", "e", None),
        ("wwwwww", "a", "f", "5 pours since the last with a set"),
        ("wwwwww", "f", "f", None),
        ("wwwwwwww", "f", "e", None),
        ("c", "", "a", COLD),
        ("wc", "a", "b", COLD),
        ("wc", "b", "b", None),
        ("wcc", "b", "c", None),
        ("wcc", "a", "c", COLD),
        ("wcc", "c", "b", None),
        ("wcwc", "b", "d", COLD),
        ("wcwc", "b", "c", None),
        ("wwwwc", "", "e", f"{COLD}; 5 pours since the last with a set"),
    ],
)
def test_every_fifth_pour_and_the_first_of_each_cold_spell_are_due(
    cold: str, tested: str, pour: str, reason: str | None
) -> None:
    assert due(row(cold), sets(tested), PourId(pour)) == reason


@pytest.mark.parametrize(
    ("apart_h", "reason"), [(166.9, None), (167.0, "no set for 7 days"), (400.0, "no set for 16 days")]
)
def test_a_week_without_a_set_is_due_counted_from_the_first_pour(apart_h: float, reason: str | None) -> None:
    assert due(row("ww", apart_h), [], PourId("b")) == reason


@pytest.mark.parametrize(("days", "reason"), [(3.0, None), (1.0, "no set for 7 days"), (20.0, None)])
def test_a_week_is_counted_from_the_newest_set(days: float, reason: str | None) -> None:
    # The pour ended 8.04 d after the first began.
    assert due(row("ww", 192.0), sets("a", days), PourId("b")) == reason


def test_a_pour_that_has_not_ended_is_due_by_no_week() -> None:
    given = row("w")
    no_end = MixPour(make_pour("a"), {})
    assert due(MixRow(given.mix, given.calibration, True, (no_end,), ()), [], PourId("a")) is None
