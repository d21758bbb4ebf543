"""A provider that accepts at once and delivers when it likes: what each person holds in the end is still right."""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest
from alerts_support import Site, for_two

from alerts.transport import Attempt
from shared.clock import SimulatedClock
from shared.models.base import MINUTE_MS
from shared.models.messages import Outcome, OutcomeKind

LONGEST_MS = 30 * MINUTE_MS
"""No provider of this test holds a text back for longer."""
RELEASE, WITHDRAWAL = 41, 42


class Reordering:
    """Says yes to everything, and brings each text after a random while."""

    deadline_s = 20.0

    def __init__(self, clock: SimulatedClock, seed: int) -> None:
        self._clock = clock
        self._random = random.Random(seed)
        self._arrivals: list[tuple[int, str, int, str]] = []

    def send(self, attempt: Attempt, still_true: Callable[[], bool]) -> Outcome:
        if not still_true():
            return Outcome(OutcomeKind.NOT_NOW, "no longer true, not begun")
        at_ms = self._clock.now() + self._random.randrange(LONGEST_MS)
        self._arrivals.append((at_ms, attempt.recipient, attempt.number, attempt.text.body))
        return Outcome(OutcomeKind.ACCEPTED, "queued by the provider")

    def held(self, who: str) -> list[tuple[int, str]]:
        """Return (number, text) as a person got them until now."""
        came = sorted(a for a in self._arrivals if a[0] <= self._clock.now() and a[1] == who)
        return [(number, body) for _, _, number, body in came]


@pytest.mark.row("A13")
@pytest.mark.parametrize("seed", range(40))
def test_however_a_provider_orders_them_the_withdrawal_is_read_last_and_says_what_it_replaces(seed: int) -> None:
    site = Site(setup=for_two())
    provider = Reordering(site.clock, seed)
    site.transport = provider  # type: ignore[assignment]  # this test's own
    site.restart()
    site.release(RELEASE)
    site.run(seed % 7)
    site.withdraw(WITHDRAWAL)
    site.run(2 * LONGEST_MS / MINUTE_MS)
    for who in ("crew", "qc"):
        numbers = [number for number, _ in provider.held(who)]
        assert numbers[-1] == WITHDRAWAL, numbers
        # And who reads a release after it finds in the withdrawal that it does not count.
        withdrawal = next(body for number, body in provider.held(who) if number == WITHDRAWAL)
        assert f"No. {WITHDRAWAL} replaces every lower number" in withdrawal


@pytest.mark.row("A13")
def test_some_of_those_orders_were_wrong_at_first() -> None:
    """Else the test above would prove nothing."""
    wrong = 0
    for seed in range(40):
        site = Site(setup=for_two())
        provider = Reordering(site.clock, seed)
        site.transport = provider  # type: ignore[assignment]  # this test's own
        site.restart()
        site.release(RELEASE)
        site.run()
        site.withdraw(WITHDRAWAL)
        site.run()
        site.clock.set(site.clock.now() + LONGEST_MS)
        wrong += any(provider.held(who)[-1][0] == RELEASE for who in ("crew", "qc"))
    assert wrong > 5
